//! A drawing as SVG.

use super::drawing::{Anchor, Drawing, Grey, Item, Pen, Pt, Text, Tint, rgb};
use super::font;
use svg::Document;
use svg::node::element::{Circle, Group, Path, Text as SvgText, Title};

/// The drawing as an SVG document in mm, numbers rounded to 0.01 mm, the title readable by a screen
/// reader.
///
/// Each text carries its length, so that it takes the same space in whatever font the reader has.
pub fn svg(drawing: &Drawing) -> String {
    let mut document = Document::new()
        .set("viewBox", format!("0 0 {} {}", number(drawing.width_mm), number(drawing.height_mm)))
        .set("width", format!("{}mm", number(drawing.width_mm)))
        .set("height", format!("{}mm", number(drawing.height_mm)))
        .set("role", "img")
        .set("font-family", "'DejaVu Sans Condensed', 'DejaVu Sans', Verdana, sans-serif")
        .add(Title::new(drawing.title.clone()));
    for item in &drawing.items {
        document = add(document, item, Ink { colour: drawing.colour, tint: None });
    }
    document.to_string()
}

/// What both a document and a group can do.
trait Holder: Sized {
    fn put(self, node: impl Into<Box<dyn svg::Node>>) -> Self;
}
impl Holder for Document {
    fn put(self, node: impl Into<Box<dyn svg::Node>>) -> Self {
        self.add(node)
    }
}
impl Holder for Group {
    fn put(self, node: impl Into<Box<dyn svg::Node>>) -> Self {
        self.add(node)
    }
}

/// What colours mean at this place.
#[derive(Clone, Copy)]
struct Ink {
    colour: bool,
    tint: Option<Tint>,
}

fn add<H: Holder>(holder: H, item: &Item, ink: Ink) -> H {
    match item {
        Item::Path { points, closed, pen, fill } => {
            let mut d = String::new();
            for (i, p) in points.iter().enumerate() {
                d.push_str(if i == 0 { "M" } else { "L" });
                d.push_str(&place(*p));
            }
            if *closed {
                d.push('Z');
            }
            let mut path = Path::new().set("d", d).set("fill", paint(*fill, ink));
            for (name, value) in stroke(*pen, ink) {
                path = path.set(name, value);
            }
            holder.put(path)
        }
        Item::Circle { centre, r_mm, pen, fill } => {
            let mut circle = Circle::new()
                .set("cx", number(centre.x))
                .set("cy", number(centre.y))
                .set("r", number(*r_mm))
                .set("fill", paint(*fill, ink));
            for (name, value) in stroke(*pen, ink) {
                circle = circle.set(name, value);
            }
            holder.put(circle)
        }
        Item::Text(text) => holder.put(words(text, ink)),
        Item::Group { name, tint, items } => {
            let ink = Ink { tint: tint.or(ink.tint), ..ink };
            let mut group = Group::new();
            if !name.is_empty() {
                group = group.set("data-name", name.clone());
            }
            for item in items {
                group = add(group, item, ink);
            }
            holder.put(group)
        }
    }
}

fn words(text: &Text, ink: Ink) -> SvgText {
    let anchor = match text.anchor {
        Anchor::Left => "start",
        Anchor::Middle => "middle",
        Anchor::Right => "end",
    };
    let mut node = SvgText::new(text.words.clone())
        .set("x", number(text.at.x))
        .set("y", number(text.at.y))
        .set("font-size", number(text.size_mm))
        .set("text-anchor", anchor)
        .set("fill", paint(Some(text.grey), ink));
    if text.words.chars().count() > 1 {
        let width = font::width_mm(&text.words, text.size_mm, text.bold);
        node = node.set("textLength", number(width)).set("lengthAdjust", "spacingAndGlyphs");
    }
    if text.bold {
        node = node.set("font-weight", "bold");
    }
    node
}

fn stroke(pen: Option<Pen>, ink: Ink) -> Vec<(&'static str, String)> {
    let Some(pen) = pen else { return vec![] };
    let mut set = vec![
        ("stroke", paint(Some(pen.grey), ink)),
        ("stroke-width", number(pen.width_mm)),
        ("stroke-linejoin", "round".into()),
        ("stroke-linecap", "round".into()),
    ];
    if let Some((dash, gap)) = pen.dash_mm {
        set.push(("stroke-dasharray", format!("{} {}", number(dash), number(gap))));
    }
    set
}

fn paint(grey: Option<Grey>, ink: Ink) -> String {
    grey.map_or("none".into(), |grey| {
        let [r, g, b] = rgb(grey, ink.tint.filter(|_| ink.colour));
        format!("#{r:02x}{g:02x}{b:02x}")
    })
}

fn place(p: Pt) -> String {
    format!("{},{}", number(p.x), number(p.y))
}

/// Two decimals at most and never `-0`.
fn number(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0;
    format!("{}", if rounded == 0.0 { 0.0 } else { rounded })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::drawing::pt;

    #[test]
    fn numbers_are_rounded_and_text_is_escaped() {
        let mut drawing = Drawing::new("a <b> & \"c\"", 20.0, 10.0);
        drawing.line(pt(0.1 + 0.2, -0.001), pt(1.0, 2.0), Pen::black(0.25).dashed(1.0, 0.5));
        drawing.text(Text::new(pt(1.0, 5.0), "left < right", 3.0).bold());
        let out = svg(&drawing);
        assert!(out.contains("M0.3,0L1,2"), "{out}");
        assert!(out.contains("stroke-dasharray=\"1 0.5\"") && out.contains("role=\"img\""), "{out}");
        assert!(out.contains("a &lt;b&gt; &amp;") && out.contains("left &lt; right"), "{out}");
    }
}
