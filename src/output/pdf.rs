//! The sheet, or any drawings, as PDF. The only module that knows printpdf.

use super::drawing::{Drawing, Grey, Item, Pen, Pt, Text, Tint, rgb};
use super::font;
use super::pages::{self, Paper};
use super::sheet::Sheet;
use printpdf::{
    Color, FontId, Greyscale, Line, LineCapStyle, LineDashPattern, LineJoinStyle, LinePoint, Mm,
    OffsetDateTime, Op, PaintMode, ParsedFont, PdfDocument, PdfFont, PdfFontHandle, PdfPage, PdfSaveOptions,
    Point, Polygon, PolygonRing, Pt as Points, Rgb, TextItem, WindingOrder,
};
use sha2::{Digest, Sha256};

/// The sheet on paper as the bytes of a PDF file. The same sheet, paper and date give the same bytes.
///
/// `created_s` is the date of creation, seconds since 1970-01-01 UTC.
pub fn pdf(sheet: &Sheet, paper: Paper, created_s: i64) -> Vec<u8> {
    let title = format!("{}, plan {}", sheet.title.frame, sheet.title.plan());
    pdf_of(&title, &sheet.title.program, &pages::pages(sheet, paper), created_s)
}

/// Drawings as the pages of a PDF file.
pub fn pdf_of(title: &str, program: &str, pages: &[Drawing], created_s: i64) -> Vec<u8> {
    let mut document = PdfDocument::new(title);
    for bold in [false, true] {
        let face = ParsedFont::from_bytes(font::bytes(bold), 0, &mut vec![]).expect("the face is sound");
        document.resources.fonts.map.insert(font_id(bold), PdfFont::new(face));
    }
    let info = &mut document.metadata.info;
    // A date out of range is as good as none.
    let date = OffsetDateTime::from_unix_timestamp(created_s).unwrap_or(info.creation_date);
    (info.creation_date, info.modification_date, info.metadata_date) = (date, date, date);
    info.creator = program.to_string();
    info.producer = program.to_string();
    document.with_pages(pages.iter().map(page).collect());
    let mut bytes = document.save(&PdfSaveOptions::default(), &mut vec![]);
    settle_id(&mut bytes);
    bytes
}

/// The writer counts up a number in its trailer's `/ID` with each file that a process makes. It is
/// replaced, in place, by a fingerprint of the file, so that the same sheet gives the same bytes.
fn settle_id(bytes: &mut [u8]) {
    const DIGITS: usize = 32;
    let tail = bytes.len().saturating_sub(1024);
    let Some(found) = bytes[tail..].windows(5).position(|w| w == b"/ID[(") else { return };
    let first = tail + found + 5;
    let second = first + DIGITS + 2;
    if bytes.get(first + DIGITS..second) != Some(b")(") || bytes.get(second + DIGITS) != Some(&b')') {
        return;
    }
    let digest = Sha256::digest(&bytes[..first]);
    let digits: Vec<u8> = digest.iter().flat_map(|b| format!("{b:02x}").into_bytes()).collect();
    bytes[first..first + DIGITS].copy_from_slice(&digits[..DIGITS]);
    bytes[second..second + DIGITS].copy_from_slice(&digits[..DIGITS]);
}

fn font_id(bold: bool) -> FontId {
    FontId(if bold { "DejaVuSansCondensed-Bold" } else { "DejaVuSansCondensed" }.into())
}

fn page(drawing: &Drawing) -> PdfPage {
    let mut ops = vec![
        Op::SetLineCapStyle { cap: LineCapStyle::Round },
        Op::SetLineJoinStyle { join: LineJoinStyle::Round },
    ];
    let mut ink = Ink {
        ops: &mut ops,
        height: drawing.height_mm,
        colour: drawing.colour,
        tint: None,
        pen: None,
        fill: None,
    };
    for item in &drawing.items {
        ink.item(item);
    }
    PdfPage::new(Mm(drawing.width_mm as f32), Mm(drawing.height_mm as f32), ops)
}

/// Writes items, remembering what is set, so that nothing is set twice.
struct Ink<'a> {
    ops: &'a mut Vec<Op>,
    height: f64,
    colour: bool,
    /// That of the group being written; with another one nothing counts as set.
    tint: Option<Tint>,
    pen: Option<Pen>,
    fill: Option<Grey>,
}

impl Ink<'_> {
    fn item(&mut self, item: &Item) {
        match item {
            Item::Path { points, closed, pen, fill } => {
                let points = points.iter().map(|p| self.corner(*p, false)).collect();
                self.shape(points, *closed, *pen, *fill);
            }
            Item::Circle { centre, r_mm, pen, fill } => {
                // Four Bézier quarters; the usual factor 4/3·(√2 − 1) keeps within 0.03 % of the radius.
                let k = 4.0 / 3.0 * (2f64.sqrt() - 1.0);
                let mut points = vec![self.corner(*centre + Pt { x: *r_mm, y: 0.0 }, false)];
                let spokes = [(1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0), (1.0, 0.0)];
                for pair in spokes.windows(2) {
                    let ((ax, ay), (bx, by)) = (pair[0], pair[1]);
                    let bends =
                        [(ax + k * bx, ay + k * by, true), (bx + k * ax, by + k * ay, true), (bx, by, false)];
                    for (x, y, bend) in bends {
                        points.push(self.corner(*centre + Pt { x, y } * *r_mm, bend));
                    }
                }
                self.shape(points, true, *pen, *fill);
            }
            Item::Text(text) => self.text(text),
            Item::Group { items, tint, .. } => {
                let around = self.tint;
                self.set_tint(tint.or(around));
                items.iter().for_each(|item| self.item(item));
                self.set_tint(around);
            }
        }
    }

    fn set_tint(&mut self, tint: Option<Tint>) {
        if self.colour && tint != self.tint {
            (self.tint, self.pen, self.fill) = (tint, None, None);
        }
    }

    fn shape(&mut self, points: Vec<LinePoint>, closed: bool, pen: Option<Pen>, fill: Option<Grey>) {
        if let Some(pen) = pen {
            self.pen(pen);
        }
        if let Some(fill) = fill {
            self.fill(fill);
        }
        let mode = match (pen, fill) {
            (Some(_), Some(_)) => PaintMode::FillStroke,
            (None, Some(_)) => PaintMode::Fill,
            (Some(_), None) => {
                self.ops.push(Op::DrawLine { line: Line { points, is_closed: closed } });
                return;
            }
            (None, None) => return,
        };
        let rings = vec![PolygonRing { points }];
        let polygon = Polygon { rings, mode, winding_order: WindingOrder::NonZero };
        self.ops.push(Op::DrawPolygon { polygon });
    }

    fn text(&mut self, text: &Text) {
        if text.words.is_empty() {
            return;
        }
        self.fill(text.grey);
        let start = text.start();
        self.ops.extend([
            Op::StartTextSection,
            Op::SetFont {
                font: PdfFontHandle::External(font_id(text.bold)),
                size: Points(hundredths(text.size_mm / 25.4 * 72.0)),
            },
            Op::SetTextCursor { pos: self.point(start) },
            Op::ShowText { items: vec![TextItem::Text(text.words.clone())] },
            Op::EndTextSection,
        ]);
    }

    fn pen(&mut self, pen: Pen) {
        if self.pen == Some(pen) {
            return;
        }
        let before = self.pen.replace(pen);
        if before.map(|p| p.width_mm) != Some(pen.width_mm) {
            self.ops.push(Op::SetOutlineThickness { pt: Mm(pen.width_mm as f32).into() });
        }
        if before.map(|p| p.grey) != Some(pen.grey) {
            self.ops.push(Op::SetOutlineColor { col: colour(pen.grey, self.tint) });
        }
        if before.map(|p| p.dash_mm) != Some(pen.dash_mm) {
            let dash = match pen.dash_mm {
                Some((dash, gap)) => {
                    let points = |mm: f64| hundredths(mm / 25.4 * 72.0);
                    LineDashPattern::new(0.0, &[points(dash), points(gap)])
                }
                None => LineDashPattern::solid(),
            };
            self.ops.push(Op::SetLineDashPattern { dash });
        }
    }

    fn fill(&mut self, grey: Grey) {
        if self.fill.replace(grey) != Some(grey) {
            self.ops.push(Op::SetFillColor { col: colour(grey, self.tint) });
        }
    }

    fn corner(&self, p: Pt, bezier: bool) -> LinePoint {
        LinePoint { p: self.point(p), bezier }
    }

    fn point(&self, p: Pt) -> Point {
        // In points with two decimals, y upwards.
        let points = |mm: f64| Points(hundredths(mm / 25.4 * 72.0));
        Point { x: points(p.x), y: points(self.height - p.y) }
    }
}

fn colour(grey: Grey, tint: Option<Tint>) -> Color {
    match tint {
        None => Color::Greyscale(Greyscale::new(f32::from(grey.0) / 255.0, None)),
        Some(_) => {
            let [r, g, b] = rgb(grey, tint).map(|c| f32::from(c) / 255.0);
            Color::Rgb(Rgb::new(r, g, b, None))
        }
    }
}

fn hundredths(value: f64) -> f32 {
    ((value * 100.0).round() / 100.0) as f32
}
