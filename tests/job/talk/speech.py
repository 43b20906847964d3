"""What is said, typed or misheard in a random dialogue, right and wrong."""

from __future__ import annotations

from hypothesis import strategies as st
from hypothesis.stateful import (
    precondition,
    rule,
)

from assistant.job.admit import admitted
from assistant.job.state import Mode
from assistant.language.intent import Cost
from assistant.safety.hazards import Stop
from tests.job.echo import WORDS, both_ways
from tests.job.talk.read_backs import read_back_words
from tests.job.talk.stage import Stage, places

INTENTS = sorted(WORDS.book.intents)
VALUES = [("12.8", "V"), ("11", "V"), ("6", "mm"), ("3", "mm"), ("5/16", "in"), ("22", "N·m")]
WORD_KEYS = [*(stop.value for stop in Stop), "freeze", "second_person"]
_EXCHANGES = (
    ("report_trouble",),
    ("report_trouble", "trouble_kind"),
    ("also_off",),
    ("also_off", "other_part"),
    ("also_off", "name_part"),
    ("also_off", "name_part", "name_count"),
    ("also_off", "other_part", "(dictated)", "name_count", "affirm", "back_on", "other_part"),
    ("leave_out",),
    ("hand_over",),
    ("read_part_number",),
    ("start_hold",),
    ("start_hold", "(tick)"),
    ("step_done",),
    ("also_off", "name_part", "name_count", "affirm", "back_on", "name_part"),
    ("reading",),
    ("take_note",),
)
"""Ways into an exchange, as far as they lead in the state where they are begun."""
_ASIDES = sorted(
    {name for name, entry in WORDS.book.intents.items() if entry.cost is Cost.QUESTION}
    | {"quiet", "start_timer"}
)
_ENDS = (
    *("", "", "disregard", "negative", "affirm", "stand_by", "freeze", "take_note"),
    *("smoke", "smell_of_fuel", "fluid_leak", "report_trouble"),
)
_CONFIRMING = ("affirm", "step_done", "read_back")


def other_digit(number: str, place: int, shift: int) -> str:
    """The number with one digit heard as another."""
    digits = list(number)
    digits[place] = str((int(digits[place]) + shift) % 10)
    return "".join(digits)


class Speech(Stage):
    """A job to which anything may be said."""

    # What is right.

    @rule()
    @precondition(lambda self: self.talk.can_answer())
    def answer(self) -> None:
        """The right answer."""
        self.done("answer")
        self.talk.answer()

    @rule(times=st.integers(2, 12))
    def work_on(self, times: int) -> None:
        """The right answers, for a while."""
        self.done("work_on")
        for _ in range(times):
            if self.talk.can_answer():
                self.talk.answer()

    @rule(times=st.integers(1, 6), left_out=st.booleans())
    def meet_a_stop(self, times: int, *, left_out: bool) -> None:
        """The right answers until something is asked back, a few times over."""
        self.done("meet_a_stop")
        talk = self.talk
        for _ in range(times):
            if talk.can_answer():
                talk.answer()
            for _ in range(30):
                if talk.state.challenge is not None or not talk.can_answer():
                    break
                planned = talk.state.step(talk.setting)
                if left_out and planned is not None and planned.step.optional:
                    talk.hear("leave_out")
                    talk.hear("leave_out_reason", reason="not-needed")
                else:
                    talk.answer()

    @rule()
    @precondition(lambda self: self.talk.state.mode is Mode.RELEASED)
    def next_job(self) -> None:
        """A released job takes nothing more; another one begins."""
        self.done("next_job")
        before = self.talk.state
        self.talk.hear("step_done")
        self.talk.hear("correction")
        self.talk.resume()
        assert self.talk.state == before
        self.check_replay()
        self.drop_disk()
        self.talk = type(self).roads[self.talk.scene].place(0)

    # What is said, typed, or heard as something else.

    @rule(intents=st.lists(st.sampled_from(INTENTS), min_size=1, max_size=6))
    def say(self, intents: list[str]) -> None:
        """Any intents at all."""
        self.done("say")
        for intent in intents:
            self.talk.hear_any(intent)

    @rule(which=st.lists(places, min_size=1, max_size=6))
    def say_what_counts(self, which: list[int]) -> None:
        """Intents that the state admits."""
        self.done("say_what_counts")
        for one in which:
            names = sorted(admitted(self.talk.setting, self.talk.state))
            if names:
                self.talk.hear_any(names[one % len(names)])

    @rule(
        first=st.sampled_from([(), *_EXCHANGES]),
        asked=st.lists(st.sampled_from(_ASIDES), max_size=5),
        last=st.sampled_from(_ENDS),
    )
    def ask_in_between(self, first: tuple[str, ...], asked: list[str], last: str) -> None:
        """Something is begun, questions come in between, and it is broken off or goes on."""
        self.done("ask_in_between")
        if first:
            self.work_until(first[0])
        for intent in (*first, *asked, *([last] if last else [])):
            if intent == "(dictated)":
                self.talk.dictate()
            elif intent == "(tick)":
                self.talk.tick(60)
            else:
                self.talk.hear_any(intent)

    def work_until(self, intent: str) -> None:
        """The right answers until this would be said, but not for ever."""
        talk = self.talk
        for _ in range(40):
            planned = talk.state.step(talk.setting)
            fits = intent != "leave_out" or (planned is not None and planned.step.optional)
            if (fits and intent in admitted(talk.setting, talk.state)) or not talk.can_answer():
                return
            talk.answer()

    @rule(how=st.sampled_from(["typed", "key", "voice"]))
    def take_to(self, how: str) -> None:
        """From now on by keys, typed, or by voice."""
        self.done("take_to")
        self.talk.via = how

    @rule(which=places, figures=st.booleans(), cut=st.integers(0, 8))
    def type_line(self, which: int, *, figures: bool, cut: int) -> None:
        """A line is typed: a whole phrase of now, one of another time, or a piece of one."""
        self.done("type_line")
        talk, was = self.talk, self.talk.via
        talk.via = "typed"
        number = talk.state.challenge.number if talk.state.challenge is not None else "47"
        digits = number if figures else " ".join(number)
        lines = [f"{words} {digits}" for words in read_back_words().values()]
        lines += [phrase for entry in WORDS.book.intents.values() for phrase in entry.phrases]
        words = lines[which % len(lines)].split()
        text = " ".join(words[: len(words) - cut] if cut < len(words) else words)
        talk.take_as_heard(WORDS.spelled(text))
        talk.via = was

    @rule(which=places, text=st.sampled_from(["", "step complete", "affirm", "words", "number"]))
    @precondition(lambda self: self.talk.state.challenge is not None)
    def right_but_misheard(self, which: int, text: str) -> None:
        """The right read-back is spoken and heard as another phrase that counts, or in part."""
        self.done("right_but_misheard")
        talk = self.talk
        before = talk.state.passed
        names = sorted(admitted(talk.setting, talk.state) - {"read_back"})
        heard_words = {"words": read_back_words().get(self.wanted(), ""), "number": talk.number()}
        if text:
            talk.unclear(heard_words.get(text, text))
        else:
            talk.hear_any(names[which % len(names)])
        assert talk.state.passed == before

    @rule(
        wrong=st.sampled_from(["digit", "turned", "old", "words", "late", "twice", "other person"]),
        which=places,
        shift=st.integers(1, 9),
    )
    @precondition(lambda self: self.talk.state.challenge is not None)
    def wrong_read_back(self, wrong: str, which: int, shift: int) -> None:
        """A read-back that is wrong in one thing, or right once too often."""
        self.done("wrong_read_back")
        talk, key = self.talk, self.wanted()
        before, number = talk.state.passed, talk.number()
        mode = talk.state.mode
        if wrong == "digit":
            number = other_digit(number, which % 2, shift)
        elif wrong == "turned":
            number = number[::-1]
        elif wrong == "old":
            self.old_numbers.append(number)
            number = self.old_numbers[which % len(self.old_numbers)]
        elif wrong in ("words", "other person"):
            others = [one for one in WORD_KEYS if one != key]
            key = others[which % len(others)] if wrong == "words" else self.other_persons(key)
        elif wrong == "late":
            talk.wait(120.5)
        else:
            talk.read_back()
            before, mode = talk.state.passed, Mode.NEW  # whatever came of the first one
        now = talk.state.challenge
        if (key, number) == (self.wanted(), now.number if now is not None else "") and (
            wrong not in ("late", "twice")
        ):
            return  # turned or old, it is the right one after all
        self.explored.refused += 1
        talk.hear("read_back", read_back=key, challenge=number)
        assert talk.state.passed == before
        assert mode in (Mode.NEW, talk.state.mode)

    def wanted(self) -> str:
        """Key of the read-back that is asked for."""
        state = self.talk.state
        if state.mode is Mode.STOP and state.stop is not None:
            return state.stop.value
        return "freeze" if state.mode is Mode.FROZEN else "second_person"

    def other_persons(self, key: str) -> str:
        """What the other one of the two people says at a stop."""
        stop = self.talk.state.stop
        if key == "second_person" and stop is not None:
            return stop.value
        return "second_person" if key != "second_person" else "freeze"

    @rule(
        value=st.sampled_from(VALUES),
        then=st.sampled_from(["", "affirm", "negative", "correction"]),
    )
    def measure(self, value: tuple[str, str], then: str) -> None:
        """A reading, good, out of limits, of something else, or misheard and taken back."""
        self.done("measure")
        number, unit = value
        self.talk.hear("reading", number=number, unit=unit)
        if then:
            self.talk.hear(then)

    @rule(
        part=places,
        line=places,
        how=st.sampled_from(["all", "line", "run"]),
        long=st.integers(1, 9),
    )
    def own_voice(self, part: int, line: int, how: str, long: int) -> None:
        """What the assistant just said, or a piece of it, comes back into the microphone."""
        self.done("own_voice")
        talk = self.talk
        ways = [both_ways(said)[part % 2] for said in talk.lines() or talk.state.last]
        if not ways:
            return
        text = " ".join(ways) if how == "all" else ways[line % len(ways)]
        if how == "run":
            words = text.split()
            begin = part % len(words)
            text = " ".join(words[begin : begin + long])
        before = talk.state
        self.explored.heard += 1
        assert talk.take_as_heard(text) not in _CONFIRMING, text
        assert talk.state.passed == before.passed
        assert talk.state.progress.done == before.progress.done

    @rule(text=st.sampled_from(["", "step complete", "affirm"]), times=st.integers(1, 3))
    def unclear(self, text: str, times: int) -> None:
        """Something that wasn't understood, whatever the recogniser guessed."""
        self.done("unclear")
        for _ in range(times):
            self.talk.unclear(text)
