//! A drawing as a PNG picture, the letters drawn by their outlines.

use super::drawing::{Drawing, Grey, Item, Pen, Pt, Text, Tint, rgb};
use super::font::{self, Stroke};
use tiny_skia::{Color, FillRule, LineCap, LineJoin, Paint, PathBuilder, Pixmap, StrokeDash, Transform};

/// Largest picture, pixels along one side.
pub const MAX_SIDE: u32 = 20_000;

/// The drawing on white, with so many pixels per mm (12 is 300 dots per inch).
///
/// # Errors
/// In words, if the picture would be empty or larger than [`MAX_SIDE`] along a side.
pub fn png(drawing: &Drawing, px_per_mm: f64) -> Result<Vec<u8>, String> {
    let side = |mm: f64| (mm * px_per_mm).ceil();
    let (width, height) = (side(drawing.width_mm), side(drawing.height_mm));
    if !(1.0..=f64::from(MAX_SIDE)).contains(&width) || !(1.0..=f64::from(MAX_SIDE)).contains(&height) {
        return Err(format!("a picture of {width} × {height} pixels cannot be made"));
    }
    let mut canvas =
        Pixmap::new(width as u32, height as u32).ok_or("not enough memory for the picture".to_string())?;
    canvas.fill(Color::WHITE);
    let scale = Transform::from_scale(px_per_mm as f32, px_per_mm as f32);
    for item in &drawing.items {
        draw(&mut canvas, item, scale, drawing.colour, None);
    }
    canvas.encode_png().map_err(|e| e.to_string())
}

fn draw(canvas: &mut Pixmap, item: &Item, scale: Transform, colour: bool, tint: Option<Tint>) {
    let paint = |grey: Grey| {
        let [r, g, b] = rgb(grey, tint.filter(|_| colour));
        let mut paint = Paint { anti_alias: true, ..Default::default() };
        paint.set_color_rgba8(r, g, b, 255);
        paint
    };
    match item {
        Item::Path { points, closed, pen, fill } => {
            let mut path = PathBuilder::new();
            for (i, p) in points.iter().enumerate() {
                if i == 0 {
                    path.move_to(p.x as f32, p.y as f32);
                } else {
                    path.line_to(p.x as f32, p.y as f32);
                }
            }
            if *closed {
                path.close();
            }
            ink(canvas, path, *pen, *fill, scale, &paint);
        }
        Item::Circle { centre, r_mm, pen, fill } => {
            let mut path = PathBuilder::new();
            path.push_circle(centre.x as f32, centre.y as f32, *r_mm as f32);
            ink(canvas, path, *pen, *fill, scale, &paint);
        }
        Item::Text(text) => ink(canvas, letters(text), None, Some(text.grey), scale, &paint),
        Item::Group { items, tint: own, .. } => {
            for item in items {
                draw(canvas, item, scale, colour, own.or(tint));
            }
        }
    }
}

fn ink(
    canvas: &mut Pixmap,
    path: PathBuilder,
    pen: Option<Pen>,
    fill: Option<Grey>,
    scale: Transform,
    paint: &dyn Fn(Grey) -> Paint<'static>,
) {
    let Some(path) = path.finish() else { return };
    if let Some(grey) = fill {
        canvas.fill_path(&path, &paint(grey), FillRule::Winding, scale, None);
    }
    if let Some(pen) = pen {
        let stroke = tiny_skia::Stroke {
            width: pen.width_mm as f32,
            line_cap: LineCap::Round,
            line_join: LineJoin::Round,
            dash: pen.dash_mm.and_then(|(dash, gap)| StrokeDash::new(vec![dash as f32, gap as f32], 0.0)),
            ..Default::default()
        };
        canvas.stroke_path(&path, &paint(pen.grey), &stroke, scale, None);
    }
}

fn letters(text: &Text) -> PathBuilder {
    let start = text.start();
    let to = |x: f64, y: f64| -> (f32, f32) {
        let p = start + Pt { x, y: -y } * text.size_mm;
        (p.x as f32, p.y as f32)
    };
    let mut path = PathBuilder::new();
    font::outline(&text.words, text.bold, &mut |stroke| match stroke {
        Stroke::Move(x, y) => {
            let (x, y) = to(x, y);
            path.move_to(x, y);
        }
        Stroke::Line(x, y) => {
            let (x, y) = to(x, y);
            path.line_to(x, y);
        }
        Stroke::Quad(x1, y1, x, y) => {
            let ((x1, y1), (x, y)) = (to(x1, y1), to(x, y));
            path.quad_to(x1, y1, x, y);
        }
        Stroke::Cubic(x1, y1, x2, y2, x, y) => {
            let ((x1, y1), (x2, y2), (x, y)) = (to(x1, y1), to(x2, y2), to(x, y));
            path.cubic_to(x1, y1, x2, y2, x, y);
        }
        Stroke::Close => path.close(),
    });
    path
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::output::drawing::{BLACK, pt};

    #[test]
    fn ink_lands_where_it_is_drawn_and_nowhere_else() {
        let mut drawing = Drawing::new("", 20.0, 10.0);
        drawing.polygon(vec![pt(2.0, 2.0), pt(6.0, 2.0), pt(6.0, 6.0), pt(2.0, 6.0)], None, Some(BLACK));
        drawing.text(Text::new(pt(10.0, 6.0), "H", 5.0));
        let picture = Pixmap::decode_png(&png(&drawing, 10.0).unwrap()).unwrap();
        let dark = |x: f64, y: f64| picture.pixel((x * 10.0) as u32, (y * 10.0) as u32).unwrap().red() < 60;
        assert!(dark(4.0, 4.0) && !dark(8.0, 4.0) && !dark(4.0, 8.0));
        // The bar of the H stands half way up its height of 0.729 × 5 mm, above the base line.
        let area = Text::new(pt(10.0, 6.0), "H", 5.0).area();
        let bar = (area.left..area.right).middle(area.top, 6.0);
        assert!((-4..=4).any(|dy| dark(bar.0, bar.1 + f64::from(dy) * 0.1)), "no bar of the H");
        assert!(!dark(bar.0, area.top - 0.3) && !dark(bar.0, 6.3));
    }

    trait Middle {
        fn middle(self, top: f64, bottom: f64) -> (f64, f64);
    }
    impl Middle for std::ops::Range<f64> {
        fn middle(self, top: f64, bottom: f64) -> (f64, f64) {
            ((self.start + self.end) / 2.0, (top + bottom) / 2.0)
        }
    }

    #[test]
    fn sizes_beyond_reason_are_refused() {
        assert!(png(&Drawing::new("", 0.0, 10.0), 10.0).is_err());
        assert!(png(&Drawing::new("", 1e9, 10.0), 10.0).is_err());
        assert!(png(&Drawing::new("", 10.0, 10.0), f64::NAN).is_err());
    }
}
