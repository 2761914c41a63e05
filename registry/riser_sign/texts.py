"""The sets of texts by language, English first."""

from registry.riser_sign.english import EN
from registry.riser_sign.spanish import ES
from registry.riser_sign.text_set import Texts

__all__ = ["EN", "ES", "TEXTS", "Texts"]

TEXTS = {texts.language: texts for texts in (EN, ES)}
