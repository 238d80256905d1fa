"""From radio to samples: profiles, decoding, clock, links, recording and playing back."""
