"""Fuzzing: whatever is typed or imported is understood or refused with a sentence, in time."""
