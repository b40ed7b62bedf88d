"""Drawings as SVG text, made on the server so that page, push and print show the same one; classes only, no styles."""
