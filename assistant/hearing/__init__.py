"""Sound becomes an intent: sources, voice activity, engines, acceptance."""
