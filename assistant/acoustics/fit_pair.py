"""Learns how to weigh what the Vosk model and PocketSphinx hear, on people and voices for tuning.

python -m assistant.acoustics.fit_pair MODEL LINES --speech FOLDER [--more MANIFEST]

Hears every tuning clip with both recognisers, appends the evidence to LINES (so that a run can be
continued by `--only-fit`), fits the logistic functions of the Vosk model alone and of the pair,
early and at the end, and prints weights and what passes at which bar.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final, NamedTuple

import numpy as np
import numpy.typing as npt
import yaml

from assistant.acoustics import trials
from assistant.acoustics.evaluate import noisy
from assistant.acoustics.splits import noises, share
from assistant.acoustics.trials import Trial
from assistant.hearing.calibrate import Clip, Grammars, read_manifest, shipped_phrasebook
from assistant.hearing.engines.pair import Heard, PairEngine, candidates
from assistant.hearing.source import FRAME_BYTES, RATE, room_tone
from assistant.language.grammar import Grammar
from assistant.trial.phrases import of_list

NAMES: Final = {
    "vosk": ("margin", "lead", "lone", "words", "single"),
    "vosk early": ("margin", "lead", "lone", "words", "single"),
    "pair": ("margin", "lead", "lone", "words", "single", "same"),
    "pair early": ("margin", "lead", "lone", "words", "single", "same"),
}
"""The evidence that each function weighs."""

LEVELS: Final = (None, 15.0, 8.0, 3.0)
_STRENGTH: Final = 1.0
_EDGE: Final = room_tone(round(0.3 * RATE))


class Said(NamedTuple):
    """One utterance in its noise, with what is admitted when it is said."""

    trial: Trial
    snr_db: float | None
    grammar: Grammar


def grammars() -> Any:  # noqa: ANN401 - a function with a memory
    """Makes the grammar of a list of phrases, each once."""
    made: dict[tuple[str, ...], Grammar] = {}

    def grammar(phrases: tuple[str, ...]) -> Grammar:
        if phrases not in made:
            made[phrases] = of_list("\n".join(phrases), "trial", "en").unrelated()
        return made[phrases]

    return grammar


def tuning_utterances(speech: Path, fixtures: Path, more: Sequence[Path]) -> list[Said]:
    """Every clip and noise of the tuning sets, in an order by hash: a part is as mixed as all."""
    spoken, rest = list(trials.tuning(speech)), list(trials.other_speech(speech))
    listed, states = grammars(), Grammars(shipped_phrasebook("en"))
    found: list[Said] = []
    for some, levels in ((spoken, (None, 20.0, 10.0, 5.0)), (rest, (None, 10.0))):
        found += [Said(trial, snr, listed(trial.phrases)) for trial in some for snr in levels]
    for manifest in (fixtures / "manifest.csv", *more):
        for clip in read_manifest(manifest, "tuning"):
            if clip.intent != "use_wrench":  # wrenches are the shop's; none is in the phrasebook
                found += [_in_a_job(clip, snr, states) for snr in LEVELS]
    return sorted(found, key=lambda each: share(f"{each.trial.path} {each.snr_db}"))


def _in_a_job(clip: Clip, snr_db: float | None, states: Grammars) -> Said:
    words = clip.words if clip.intent else ""
    return Said(Trial("phrasebook", clip.file, words, ()), snr_db, states.state_for(clip))


def listened(pair: PairEngine, grammar: Grammar, pcm: bytes) -> tuple[Heard, Heard]:
    """What both made of an utterance when it seemed to be over, and when it was."""
    pair.use(grammar)
    pair.start()
    sound = _EDGE + pcm + _EDGE
    for at in range(0, len(sound), FRAME_BYTES):
        pair.feed(sound[at : at + FRAME_BYTES])
    return pair.heard_so_far(), pair.heard()


def lines_of(pair: PairEngine, said: Said, pcm: bytes) -> Iterator[dict[str, Any]]:
    """A line for each function and meaning: the evidence, and whether it was said."""

    def meaning(text: str) -> object:
        intent = said.grammar.match(said.grammar.respelled(text)) if text else None
        return (intent.name, intent.slots) if intent else None

    wanted = meaning(said.trial.text)
    early, late = listened(pair, said.grammar, pcm)
    about = {"set": said.trial.set, "file": said.trial.path.name, "snr": said.snr_db}
    for name, heard in (("early", early), ("", late)):
        alone = heard._replace(choice="")
        for kind, what in (("vosk", alone), ("pair", heard)):
            for means, (_, evidence) in candidates(meaning, what).items():
                known = {"function": f"{kind} {name}".strip(), "right": means == wanted}
                yield about | known | {"evidence": evidence, "kind": _kind(means)}


def _kind(means: object) -> str:
    return str(means[0]) if isinstance(means, tuple) else ""


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


def learned(lines: Sequence[Mapping[str, Any]], names: Sequence[str]) -> dict[str, Any]:
    """Bias and weights as `acceptance.yaml` has them."""
    raw = np.array([[line["evidence"][name] for name in names] for line in lines])
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
            for name, f, a, b in zip(names, factors, low, high, strict=True)
        },
    }


def passing(lines: Sequence[Mapping[str, Any]], weights: Mapping[str, Any]) -> str:
    """How many right and wrong meanings reach each bar: of people, and of the phrasebook."""
    from assistant.hearing.acceptance import Weights  # noqa: PLC0415 - pydantic, here only

    rule = Weights.model_validate(weights)
    sure = np.array([rule.confidence(line["evidence"]) for line in lines])
    right = np.array([bool(line["right"]) for line in lines])
    book = np.array([line["set"] == "phrasebook" for line in lines])
    rows = []
    for name, some in (("people", ~book), ("phrasebook", book)):
        rows.append(f"{name}: of {(right & some).sum()} right, {(~right & some).sum()} wrong:")
        for bar in (0.3, 0.5, 0.7, 0.8, 0.85, 0.9, 0.95, 0.97, 0.98, 0.99):
            over = (sure >= bar) & some
            rows.append(
                f"  {bar:.2f}: {(over & right).sum():5} right, {(over & ~right).sum():4} wrong"
            )
    return "\n".join(rows)


def main(arguments: Sequence[str] | None = None) -> None:
    """Hear, fit, print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("model", type=Path)
    parser.add_argument("lines", type=Path)
    parser.add_argument("--speech", type=Path, required=True)
    parser.add_argument("--fixtures", type=Path, default=Path("audio_fixtures"))
    parser.add_argument("--more", type=Path, action="append", default=[], help="another manifest")
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--only-fit", action="store_true")
    given = parser.parse_args(arguments)
    if not given.only_fit:
        _hear_all(given)
    lines = [json.loads(line) for line in given.lines.read_text("utf-8").splitlines()]
    for function, names in NAMES.items():
        some = [line for line in lines if line["function"] == function]
        weights = learned(some, names)
        shown = yaml.safe_dump(weights, sort_keys=False)
        sys.stdout.write(f"{function}\n{shown}{passing(some, weights)}\n\n")


def _hear_all(given: argparse.Namespace) -> None:
    pair, beds = PairEngine(given.model), noises(given.speech, "train")
    utterances = tuning_utterances(given.speech, given.fixtures, given.more)
    with given.lines.open("a", encoding="utf-8") as file:
        for said in utterances[given.first :: given.every]:
            pcm = noisy(said.trial, said.snr_db, beds)
            file.writelines(json.dumps(line) + "\n" for line in lines_of(pair, said, pcm))
            file.flush()


if __name__ == "__main__":
    main()
