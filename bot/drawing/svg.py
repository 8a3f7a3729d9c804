"""Drawing in SVG 1.1: elements as text, every value escaped. No style sheet is needed to read a drawing."""

from collections.abc import Sequence

from markupsafe import Markup, escape

INK = "#1c2528"
Value = str | float | int | None


def element(name: str, content: str = "", /, **attributes: Value) -> Markup:
    """One element. `content` is escaped unless it is markup already; an attribute that is None is left out.

    "_" in a name stands for "-", and a "_" at its end for nothing (`class_`).
    """
    given = "".join(
        f' {key.rstrip("_").replace("_", "-")}="{escape(_number(value))}"'
        for key, value in attributes.items()
        if value is not None
    )
    return Markup(f"<{name}{given}>{escape(content)}</{name}>")


def group(parts: Sequence[Markup], **attributes: Value) -> Markup:
    """Several elements as one."""
    return element("g", Markup("").join(parts), **attributes)


def drawing(
    width: float,
    height: float,
    title: str,
    desc: str,
    name: str,
    parts: Sequence[Markup],
    font: float = 12,
) -> Markup:
    """A whole drawing, told in words to those who cannot see it. `name` is its own on the page."""
    told = [element("title", title, id=f"{name}-title"), element("desc", desc, id=f"{name}-desc")]
    return element(
        "svg",
        Markup("").join([*told, *parts]),
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_number(width)} {_number(height)}",
        role="img",
        aria_labelledby=f"{name}-title {name}-desc",
        font_family="system-ui, sans-serif",
        font_size=font,
        fill="none",
    )


def line(x1: float, y1: float, x2: float, y2: float, **attributes: Value) -> Markup:
    return element("line", x1=x1, y1=y1, x2=x2, y2=y2, **{"stroke": INK, **attributes})


def box(x: float, y: float, width: float, height: float, **attributes: Value) -> Markup:
    return element("rect", x=x, y=y, width=width, height=height, **attributes)


def text(x: float, y: float, content: str, **attributes: Value) -> Markup:
    return element("text", content, x=x, y=y, **{"fill": INK, **attributes})


def over(x: float, y: float, content: str, **attributes: Value) -> Markup:
    """A text that is read over lines: under it stands the same in white, with an edge.

    `paint-order` would do with one, and not everything that draws this knows it.
    """
    edge: dict[str, Value] = {"stroke": "#fff", "stroke_width": 3, "fill": "#fff", "aria_hidden": "true"}
    return Markup("").join([text(x, y, content, **attributes | edge), text(x, y, content, **attributes)])


def _number(value: Value) -> str:
    return f"{value:.1f}".removesuffix(".0") if isinstance(value, float) else str(value)
