"""Learns how to weigh two recognisers' evidence, on people and voices kept for tuning.

python -m assistant.acoustics.fit_pair MODEL LINES --speech FOLDER

Hears every tuning clip with both recognisers, appends the evidence to LINES (so that a run can be
continued by `--only-fit`), fits the logistic function and prints weights and what passes at which
bar.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import yaml

from assistant.acoustics import trials
from assistant.acoustics.evaluate import noisy
from assistant.acoustics.splits import noises, share
from assistant.acoustics.trials import Trial
from assistant.hearing.engines import Engine, Recognized
from assistant.hearing.engines.pair import evidence
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.engines.vosk_engine import VoskEngine
from assistant.hearing.source import RATE, room_tone
from assistant.language.grammar import Grammar
from assistant.trial.phrases import of_list

NAMES: Final = ("both", "word", "steady", "against", "second", "worst")
_STRENGTH: Final = 1.0
_EDGE: Final = room_tone(round(0.3 * RATE))


def grammars() -> Any:  # noqa: ANN401 - a function with a memory
    """Makes the grammar of a list of phrases, each once."""
    made: dict[tuple[str, ...], Grammar] = {}

    def grammar(phrases: tuple[str, ...]) -> Grammar:
        if phrases not in made:
            made[phrases] = of_list("\n".join(phrases), "trial", "en").unrelated()
        return made[phrases]

    return grammar


def hear(engine: Engine, grammar: Grammar, pcm: bytes) -> Recognized:
    """One utterance, with a little room around it, as the ear would pass it on."""
    engine.use(grammar)
    engine.start()
    engine.feed(_EDGE + pcm + _EDGE)
    return engine.finish()


def tuning_trials(speech: Path, fixtures: Path) -> list[tuple[Trial, float | None]]:
    """Every clip and noise of the tuning sets, in an order by hash: a part is as mixed as all."""
    spoken, rest = list(trials.tuning(speech)), list(trials.other_speech(speech))
    voices = list(trials.synthetic(fixtures, "tuning"))
    found: list[tuple[Trial, float | None]] = []
    for some, levels in ((spoken, (None, 20.0, 10.0, 5.0)), (rest, (None, 10.0)),
                         (voices, (None, 10.0, 5.0))):  # fmt: skip
        found += [(trial, snr) for trial in some for snr in levels]
    return sorted(found, key=lambda each: share(f"{each[0].path} {each[1]}"))


def heard_by_both(
    ours: Engine, other: Engine, grammar: Grammar, trial: Trial, pcm: bytes
) -> list[dict[str, Any]]:
    """A line for each meaning that either heard: its evidence, and whether it was said."""
    results = hear(ours, grammar, pcm), hear(other, grammar, pcm)
    means = [grammar.match(each.text) if each.text else None for each in results]
    mine, theirs = ((m.name, m.slots) if m else None for m in means)
    wanted = grammar.match(trial.text) if trial.text else None
    said = (wanted.name, wanted.slots) if wanted else None
    return [
        {"set": trial.set, "file": trial.path.name, "right": meant == said}
        | {"evidence": evidence(meant, (mine, results[0]), (theirs, results[1]))}
        for meant in dict.fromkeys(m for m in (mine, theirs) if m is not None)
    ]


def fit(values: npt.NDArray[np.float64], right: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    """Weights of a logistic function, the last one its bias, by Newton's method.

    Evidence should be of unit size; weights but the bias are held small (ridge).
    """
    full = np.column_stack([values, np.ones(len(values))])
    weights = np.zeros(full.shape[1])
    ridge = np.diag([_STRENGTH] * values.shape[1] + [1e-6])
    for _ in range(30):
        likely = 1 / (1 + np.exp(-full @ weights))
        slope = full.T @ (right - likely) - ridge @ weights
        bend = (full * (likely * (1 - likely))[:, None]).T @ full + ridge
        weights = weights + np.linalg.solve(bend, slope)
    return weights


def learned(lines: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Bias and weights as `acceptance.yaml` has them."""
    raw = np.array([[line["evidence"][name] for name in NAMES] for line in lines])
    low, high = np.quantile(raw, 0.01, axis=0), np.quantile(raw, 0.99, axis=0)
    low, high = np.minimum(low, raw.max(0)), np.maximum(high, low + 1e-3)
    kept = np.clip(raw, low, high)
    middle, spread = kept.mean(0), kept.std(0) + 1e-6
    weights = fit((kept - middle) / spread, np.array([float(line["right"]) for line in lines]))
    factors = weights[:-1] / spread
    bias = float(weights[-1] - (factors * middle).sum())
    return {
        "bias": round(bias, 3),
        "weights": {
            name: {
                "factor": round(float(f), 3),
                "low": round(float(a), 3),
                "high": round(float(b), 3),
            }
            for name, f, a, b in zip(NAMES, factors, low, high, strict=True)
        },
    }


def passing(lines: Sequence[Mapping[str, Any]], weights: Mapping[str, Any]) -> str:
    """How many right and wrong meanings reach each bar."""
    from assistant.hearing.acceptance import Weights  # noqa: PLC0415 - pydantic, here only

    rule = Weights.model_validate(weights)
    sure = np.array([rule.confidence(line["evidence"]) for line in lines])
    right = np.array([bool(line["right"]) for line in lines])
    rows = [f"of {right.sum()} right, {(~right).sum()} wrong:"]
    for bar in (0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 0.97):
        over = sure >= bar
        rows.append(f"  {bar:.2f}: {(over & right).sum():5} right, {(over & ~right).sum():4} wrong")
    return "\n".join(rows)


def main(arguments: Sequence[str] | None = None) -> None:
    """Hear, fit, print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("model", type=Path)
    parser.add_argument("lines", type=Path)
    parser.add_argument("--speech", type=Path, required=True)
    parser.add_argument("--fixtures", type=Path, default=Path("audio_fixtures"))
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--only-fit", action="store_true")
    given = parser.parse_args(arguments)
    if not given.only_fit:
        ours, other = VoskEngine(given.model), PocketSphinxEngine()
        beds, grammar = noises(given.speech, "train"), grammars()
        with given.lines.open("a", encoding="utf-8") as file:
            for trial, snr in tuning_trials(given.speech, given.fixtures)[
                given.first :: given.every
            ]:
                pcm = noisy(trial, snr, beds)
                found = heard_by_both(ours, other, grammar(trial.phrases), trial, pcm)
                file.writelines(json.dumps(line | {"snr": snr}) + "\n" for line in found)
                file.flush()
    lines = [json.loads(line) for line in given.lines.read_text("utf-8").splitlines()]
    weights = learned(lines)
    sys.stdout.write(yaml.safe_dump(weights, sort_keys=False) + passing(lines, weights) + "\n")


if __name__ == "__main__":
    main()
