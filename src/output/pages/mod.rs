//! The sheet laid out on paper: one drawing per page.
//!
//! Large print, few words, black and white: what comes next is read in gloves from two metres, and
//! a stop looks different from a pass even on a bad copy.

mod blocks;
mod icons;
mod rows;

use super::drawing::{Area, BLACK, Drawing, Pen, Text, pt};
use super::font;
use super::safety::DEFERRAL_LINE;
use super::sheet::{Sheet, Title};

/// A size of paper, upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Paper {
    /// 210 × 297 mm (ISO 216).
    A4,
    /// 8½ × 11 inches (ANSI A).
    Letter,
}

impl Paper {
    /// Width and height, mm.
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        }
    }
}

/// Nothing is printed nearer to the edge than this, mm.
pub const MARGIN_MM: f64 = 12.0;

/// The pages of a sheet: cover, cautions, numbered rows, further pictures and tables.
pub fn pages(sheet: &Sheet, paper: Paper) -> Vec<Drawing> {
    let mut flow = Flow::new(&sheet.title, paper);
    flow.deferral(sheet.deferral());
    flow.blocks(&sheet.cover);
    flow.new_page();
    flow.cautions(sheet.cautions());
    if !sheet.rows.is_empty() {
        flow.new_page();
        flow.rows(&sheet.rows);
    }
    if !sheet.further.is_empty() {
        flow.new_page();
        flow.blocks(&sheet.further);
    }
    flow.finish().into_iter().map(|page| page.in_colour(sheet.colour)).collect()
}

/// Height of the head and of the foot of a page, mm.
const HEAD_MM: f64 = 18.0;
const FOOT_MM: f64 = 8.0;

/// Pages being filled from the top.
struct Flow<'a> {
    title: &'a Title,
    paper: Paper,
    pages: Vec<Drawing>,
    /// Where the next thing goes, mm from the top.
    y: f64,
}

impl<'a> Flow<'a> {
    fn new(title: &'a Title, paper: Paper) -> Flow<'a> {
        let mut flow = Flow { title, paper, pages: vec![], y: 0.0 };
        flow.new_page();
        flow
    }

    /// What a page has for its contents.
    fn body(&self) -> Area {
        let (width, height) = self.paper.size_mm();
        Area {
            left: MARGIN_MM,
            top: MARGIN_MM + HEAD_MM,
            right: width - MARGIN_MM,
            bottom: height - MARGIN_MM - FOOT_MM,
        }
    }

    fn page(&mut self) -> &mut Drawing {
        self.pages.last_mut().expect("a flow begins with a page")
    }

    /// True if nothing stands on this page yet.
    fn fresh(&self) -> bool {
        self.y <= self.body().top
    }

    fn new_page(&mut self) {
        if !self.pages.is_empty() && self.fresh() {
            return;
        }
        let (width, height) = self.paper.size_mm();
        let mut page = Drawing::new(String::new(), width, height);
        head(&mut page, self.title);
        self.pages.push(page);
        self.y = self.body().top;
    }

    /// Makes sure that a height is free under `y`.
    fn need(&mut self, height: f64) {
        if self.y + height > self.body().bottom + 1e-6 {
            self.new_page();
        }
    }

    /// A gap, if something stands above.
    fn gap(&mut self, height: f64) {
        if !self.fresh() {
            self.y += height;
        }
    }

    fn finish(mut self) -> Vec<Drawing> {
        if self.fresh() && self.pages.len() > 1 {
            self.pages.pop();
        }
        let count = self.pages.len();
        for (n, page) in self.pages.iter_mut().enumerate() {
            page.title = format!("{}, page {} of {count}", self.title.frame, n + 1);
            foot(page, self.title, n + 1, count);
        }
        self.pages
    }
}

fn head(page: &mut Drawing, title: &Title) {
    let (left, right) = (MARGIN_MM, page.width_mm - MARGIN_MM);
    let code = icons::square_code(&title.find_again, HEAD_MM - 3.0);
    let text_right = match &code {
        Some(code) => {
            page.place(code, pt(right - code.width_mm, MARGIN_MM), 1.0);
            right - code.width_mm - 4.0
        }
        None => right,
    };
    let id = Text::new(pt(text_right, MARGIN_MM + 6.0), &title.plan_id, 5.5).bold().right();
    let name_width = id.start().x - 4.0 - left;
    // A long name is set smaller before it is cut.
    let wanted = font::width_mm(&font::printable(&title.frame).0, 6.5, true);
    let size = (6.5 * name_width / wanted.max(1e-9)).clamp(4.2, 6.5);
    page.text(
        Text::new(pt(left, MARGIN_MM + 6.0), font::fit(&title.frame, size, true, name_width), size).bold(),
    );
    page.text(id);
    let facts = [title.program.as_str(), title.date.as_str()];
    let facts: Vec<&str> = facts.into_iter().filter(|f| !f.is_empty()).collect();
    let revision = Text::new(
        pt(text_right, MARGIN_MM + 12.0),
        match title.revision {
            0 => "plan, first".into(),
            n => format!("plan, revision {n}; sheets before it are void"),
        },
        3.4,
    )
    .right();
    let facts = font::fit(&facts.join("  ·  "), 3.4, false, revision.start().x - 4.0 - left);
    page.text(Text::new(pt(left, MARGIN_MM + 12.0), facts, 3.4));
    page.text(revision);
    page.line(pt(left, MARGIN_MM + HEAD_MM - 2.0), pt(right, MARGIN_MM + HEAD_MM - 2.0), Pen::black(0.6));
}

fn foot(page: &mut Drawing, title: &Title, number: usize, count: usize) {
    let (left, right) = (MARGIN_MM, page.width_mm - MARGIN_MM);
    let base = page.height_mm - MARGIN_MM - 1.2;
    page.line(pt(left, base - 4.6), pt(right, base - 4.6), Pen::black(0.3));
    let numbers = Text::new(pt(right, base), format!("{}  ·  {number} of {count}", title.plan_id), 3.6);
    let numbers = numbers.bold().right();
    let room = numbers.start().x - 3.0 - left;
    // The deferral is never cut: it is set smaller until it fits.
    let mut size = 3.2;
    while font::width_mm(DEFERRAL_LINE, size, false) > room && size > 1.0 {
        size -= 0.05;
    }
    page.text(Text { grey: BLACK, ..Text::new(pt(left, base), DEFERRAL_LINE, size) });
    page.text(numbers);
}
