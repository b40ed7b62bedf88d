"""Cards as HTML, the same for every viewer; the board page and the websocket push use the same templates."""

from consult.render.card import card_html

__all__ = ["card_html"]
