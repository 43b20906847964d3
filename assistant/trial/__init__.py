"""Recognition trials on labelled audio.

    rows = read_manifest(Path("clips.csv"))
    phrases = functools.partial(read_phrases, Path("words.txt"), "en")
    table = run_trial(rows, Ours("pocketsphinx"), phrases,
                      noises=NoiseFolder(Path("machines"), seed=1), snrs=(20, 10, 5, 0))
    table.as_json()            # T of `gloveson trial --json`
    table.results              # every clip with outcome, cause, words, evidence, latency

`run_trial` takes any factory `make_ear(source, speaker) -> listener`; a listener has
`hear(grammar, patience_s, going) -> Heard | Nothing`, as `hearing.ear.Ear` has. So another engine
is tried with `lambda source, speaker: Ear(source, my_engine, bars=my_bars)`, and one that knows its
people picks them by `speaker`. It is called for every session: the clips of one speaker under one
condition, at most 25 (keep what is slow to load outside of it). With `jobs=N` it must be picklable.
`Ours(engine, without=PART)` switches one part of our path off (`trial.parts`); `Enrolled` puts the
speaker's own takes beside it; `Plain(engine)` is the engine by itself.

An engine lives as long as its process, so what it adapts to (a recogniser's mean features) goes on
from session to session; figures can differ by a clip or two with another `jobs`.
"""

from assistant.trial.enrolled import Enrolled, usable, while_at_work
from assistant.trial.listeners import Listener, MakeListener, Ours, Plain
from assistant.trial.manifest import Row, read_manifest, spread
from assistant.trial.outcome import Result
from assistant.trial.parts import PARTS
from assistant.trial.phrases import Phrases, read_phrases
from assistant.trial.run import clips_to_hear, run_trial
from assistant.trial.sound import Condition, NoiseFolder
from assistant.trial.table import Line, Table

__all__ = [
    "PARTS",
    "Condition",
    "Enrolled",
    "Line",
    "Listener",
    "MakeListener",
    "NoiseFolder",
    "Ours",
    "Phrases",
    "Plain",
    "Result",
    "Row",
    "Table",
    "clips_to_hear",
    "read_manifest",
    "read_phrases",
    "run_trial",
    "spread",
    "usable",
    "while_at_work",
]
