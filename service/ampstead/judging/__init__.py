"""What may be done with a pack: charge it, draw from it, join it. Each rule stands here once."""
