"""Training, exporting and measuring the package's own small Vosk model.

Nothing here is imported while a job runs. `recipe` is the whole way from recordings to a model
folder; it needs the extra `train`. `MODEL_CARD.md` says what the shipped model was made of.
"""
