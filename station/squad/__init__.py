"""Athletes, lifts, sets, reps and the match calendar: plain data and the rules of the trade."""
