"""A hand-written grammar for the tests of hearing: a flat list of phrases."""

from __future__ import annotations

from dataclasses import dataclass, field

from assistant.language.intent import Cost, Intent


@dataclass(frozen=True)
class Phrases:
    """Phrases and their intents; the same methods as `language.grammar.Grammar`."""

    intents: dict[str, Intent]
    costs: dict[str, Cost] = field(default_factory=dict)
    language: str = "en"
    pronunciations: dict[str, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def of(cls, *phrases: str, cost: Cost = Cost.CONTROL, language: str = "en") -> Phrases:
        """Each phrase an intent named as the phrase, all of one cost."""
        intents = {phrase: Intent(phrase.replace(" ", "_"), (), phrase) for phrase in phrases}
        return cls(intents, {intent.name: cost for intent in intents.values()}, language)

    def match(self, text: str) -> Intent | None:
        """The intent of exactly this phrase."""
        return self.intents.get(text)

    def words(self) -> frozenset[str]:
        """Every word of every phrase."""
        return frozenset(word for phrase in self.intents for word in phrase.split())

    def words_by_phrase(self) -> dict[str, frozenset[str]]:
        """The words of each phrase."""
        return {phrase: frozenset(phrase.split()) for phrase in self.intents}

    def jsgf(self) -> str:
        """One rule with all phrases."""
        return (
            "#JSGF V1.0;\ngrammar phrases;\npublic <command> = " + " | ".join(self.intents) + ";\n"
        )

    def vosk_phrases(self) -> tuple[str, ...]:
        """The phrases."""
        return tuple(self.intents)

    def respelled(self, text: str) -> str:
        """Nothing here sounds like anything else."""
        return text

    def cost_of(self, name: str) -> Cost:
        """The cost class of an intent."""
        return self.costs.get(name, Cost.CONTROL)

    def complete_only(self, text: str) -> bool:
        """Whether this is a phrase that no other one begins with."""
        return text in self.intents and not any(
            other.startswith(text + " ") for other in self.intents
        )
