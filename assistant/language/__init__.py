"""What can be said and how it is worded: phrasebook, grammar, numbers, prompts."""
