"""What happens at a rack: link, motion, squad and store, one stream of views out. No Qt here."""
