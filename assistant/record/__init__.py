"""What is kept: journal, clips, seal, audit, account."""
