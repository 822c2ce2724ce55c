"""The page that travels: one HTML file with the section, the levels and sliders, and no network."""

from .page import page_html

__all__ = ["page_html"]
