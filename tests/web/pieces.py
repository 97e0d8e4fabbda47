"""A drawing taken apart: its nodes, and those of one kind."""

import xml.etree.ElementTree as ET


def tree(markup):
    return ET.fromstring(f"<div>{markup}</div>")


def kinds(markup, word):
    return [node for node in tree(markup).iter() if word in (node.get("class") or "").split()]
