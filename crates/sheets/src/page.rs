//! A page of placed items in millimetres: what the writers read, and what tests can check without opening a file.
//!
//! The origin is the paper's top left corner; x runs right, y runs down. Text height is the height of a capital,
//! as drawing standards give it.

use crate::font::{Face, printable, text_width_mm, wrap};

/// A place on the paper: millimetres right and down from the top left corner.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Pt {
    /// Right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

/// Returns the place `x` right and `y` down.
pub const fn pt(x: f64, y: f64) -> Pt {
    Pt { x, y }
}

impl Pt {
    /// Returns the distance to another place in millimetres.
    pub fn distance(self, other: Pt) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }
}

/// An upright rectangle on the paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rect {
    /// Left.
    pub x: f64,
    /// Top.
    pub y: f64,
    /// Width.
    pub w: f64,
    /// Height.
    pub h: f64,
}

impl Rect {
    /// Returns the rectangle with this corner and size.
    pub const fn new(x: f64, y: f64, w: f64, h: f64) -> Rect {
        Rect { x, y, w, h }
    }
    /// Returns its right side.
    pub fn right(&self) -> f64 {
        self.x + self.w
    }
    /// Returns its lower side.
    pub fn bottom(&self) -> f64 {
        self.y + self.h
    }
    /// Returns its middle.
    pub fn middle(&self) -> Pt {
        pt(self.x + self.w / 2.0, self.y + self.h / 2.0)
    }
    /// Returns its corners, clockwise from the top left.
    pub fn corners(&self) -> [Pt; 4] {
        [
            pt(self.x, self.y),
            pt(self.right(), self.y),
            pt(self.right(), self.bottom()),
            pt(self.x, self.bottom()),
        ]
    }
    /// Returns it grown by `by` on every side.
    pub fn grown(&self, by: f64) -> Rect {
        Rect::new(self.x - by, self.y - by, self.w + 2.0 * by, self.h + 2.0 * by)
    }
    /// True when the two share more than an edge.
    pub fn overlaps(&self, other: &Rect) -> bool {
        self.x < other.right() && other.x < self.right() && self.y < other.bottom() && other.y < self.bottom()
    }
    /// True when `other` lies in it.
    pub fn holds(&self, other: &Rect) -> bool {
        other.x >= self.x
            && other.y >= self.y
            && other.right() <= self.right()
            && other.bottom() <= self.bottom()
    }
    /// True when the place lies in it.
    pub fn has(&self, at: Pt) -> bool {
        at.x >= self.x && at.x <= self.right() && at.y >= self.y && at.y <= self.bottom()
    }
}

/// A colour: red, green, blue, 0 to 255.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink(pub u8, pub u8, pub u8);

impl Ink {
    /// Near-black.
    pub const BLACK: Ink = Ink(0x11, 0x11, 0x11);
    /// Second voice; still 7:1 on paper.
    pub const GREY: Ink = Ink(0x4a, 0x4a, 0x4a);
    /// Thin rules.
    pub const RULE: Ink = Ink(0x8a, 0x8a, 0x8a);
    /// Paper.
    pub const WHITE: Ink = Ink(0xff, 0xff, 0xff);

    /// Reads `#rrggbb`; anything else is black, and so is a colour that would read as green.
    pub fn from_hex(text: &str) -> Ink {
        let digits = text.trim_start_matches('#');
        let part = |i: usize| digits.get(i..i + 2).and_then(|d| u8::from_str_radix(d, 16).ok());
        match (digits.len(), part(0), part(2), part(4)) {
            (6, Some(r), Some(g), Some(b)) => {
                let ink = Ink(r, g, b);
                if ink.is_green() { Ink::BLACK } else { ink }
            }
            _ => Ink::BLACK,
        }
    }
    /// True when green is the strongest part: such a colour is never printed.
    pub fn is_green(self) -> bool {
        self.1 > self.0 && self.1 > self.2
    }
}

/// What an item stands for, so that a test can find it.
#[derive(Debug, Clone, PartialEq)]
pub enum Role {
    /// Frames, rules, title-block cells and their text.
    Furniture,
    /// Neat line round the plan.
    PlanFrame,
    /// The first sentence.
    Says,
    /// Outline of the dig; the number is the ring.
    DigOutline(usize),
    /// Axis of a run.
    RunAxis(String),
    /// Outside edges of a run, to scale.
    RunEdge(String),
    /// 95 % band of a run.
    RunBand(String),
    /// Edge of a hand-dig zone.
    ZoneEdge(String),
    /// Letters along a run.
    RunLetters(String),
    /// Mark at a vertex: run and point.
    Vertex(String, String),
    /// Label on the plan.
    Label,
    /// Line from a label to what it names.
    Leader,
    /// The hatch: not recorded here.
    Unsearched,
    /// Outline of a searched area.
    Searched(String),
    /// Control point.
    Control(String),
    /// Grid tick or value.
    Grid,
    /// North arrow.
    North,
    /// A bar 100 mm long: along or up the sheet.
    CheckBar,
    /// Staff diagram: frame, ticks.
    Staff,
    /// Staff diagram: surface line.
    StaffSurface,
    /// Staff diagram: floor line.
    StaffFloor,
    /// Staff diagram: outside top of a run, and its bar.
    StaffMark(String),
    /// Table of runs or points.
    Table,
    /// Legend.
    Legend,
    /// A caution.
    Caution,
}

/// Where on its text a place lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Start of the baseline.
    Start,
    /// Middle of the baseline.
    Middle,
    /// End of the baseline.
    End,
}

/// One line of text.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// On the baseline.
    pub at: Pt,
    /// The text.
    pub text: String,
    /// Height of a capital in millimetres.
    pub cap_mm: f64,
    /// Face.
    pub face: Face,
    /// Turned anticlockwise by this many degrees.
    pub angle_deg: f64,
    /// Where `at` lies.
    pub anchor: Anchor,
    /// Colour.
    pub ink: Ink,
}

impl Text {
    /// Returns its width along the baseline in millimetres.
    pub fn width_mm(&self) -> f64 {
        text_width_mm(&self.text, self.face, self.cap_mm)
    }
    /// Returns where its baseline starts.
    pub fn start(&self) -> Pt {
        let back = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => self.width_mm() / 2.0,
            Anchor::End => self.width_mm(),
        };
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        pt(self.at.x - back * cos, self.at.y + back * sin)
    }
    /// Returns the upright rectangle round its capitals and descenders.
    pub fn bounds(&self) -> Rect {
        let start = self.start();
        let (sin, cos) = self.angle_deg.to_radians().sin_cos();
        let (width, up, down) = (self.width_mm(), self.cap_mm, 0.3 * self.cap_mm);
        let corner = |along: f64, above: f64| {
            pt(
                start.x + along * cos - above * sin,
                start.y - along * sin - above * cos,
            )
        };
        around(&[
            corner(0.0, up),
            corner(width, up),
            corner(0.0, -down),
            corner(width, -down),
        ])
    }
}

/// Returns the upright rectangle round some places; an empty one at the origin for none.
pub fn around(places: &[Pt]) -> Rect {
    let Some(first) = places.first() else {
        return Rect::new(0.0, 0.0, 0.0, 0.0);
    };
    let (mut low, mut high) = (*first, *first);
    for p in places {
        low = pt(low.x.min(p.x), low.y.min(p.y));
        high = pt(high.x.max(p.x), high.y.max(p.y));
    }
    Rect::new(low.x, low.y, high.x - low.x, high.y - low.y)
}

/// How a line is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Stroke {
    /// Width in millimetres.
    pub width_mm: f64,
    /// Drawn, gap, drawn, gap... in millimetres; empty is solid.
    pub dash_mm: Vec<f64>,
    /// Colour.
    pub ink: Ink,
}

impl Stroke {
    /// Returns a solid line.
    pub fn solid(width_mm: f64, ink: Ink) -> Stroke {
        Stroke {
            width_mm,
            dash_mm: Vec::new(),
            ink,
        }
    }
    /// Returns a dashed line.
    pub fn dashed(width_mm: f64, dash_mm: &[f64], ink: Ink) -> Stroke {
        Stroke {
            width_mm,
            dash_mm: dash_mm.to_vec(),
            ink,
        }
    }
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// One line of text.
    Text(Text),
    /// A line through places.
    Line {
        /// The places.
        points: Vec<Pt>,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// A closed ring, filled, outlined or both.
    Area {
        /// The ring; closed by itself.
        ring: Vec<Pt>,
        /// Fill.
        fill: Option<Ink>,
        /// Outline.
        stroke: Option<Stroke>,
    },
    /// Many separate strokes of one kind: a hatch.
    Strokes {
        /// Start and end of each.
        segments: Vec<[Pt; 2]>,
        /// How they are drawn.
        stroke: Stroke,
    },
}

/// One placed item.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// What it stands for.
    pub role: Role,
    /// What is drawn.
    pub shape: Shape,
}

/// One page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width in millimetres.
    pub width_mm: f64,
    /// Height in millimetres.
    pub height_mm: f64,
    /// Items in drawing order.
    pub items: Vec<Item>,
}

impl Page {
    /// Returns an empty page.
    pub fn new(width_mm: f64, height_mm: f64) -> Page {
        Page {
            width_mm,
            height_mm,
            items: Vec::new(),
        }
    }
    /// Returns every text on it, with its role.
    pub fn texts(&self) -> impl Iterator<Item = (&Role, &Text)> {
        self.items.iter().filter_map(|item| match &item.shape {
            Shape::Text(text) => Some((&item.role, text)),
            _ => None,
        })
    }
    /// Adds an item.
    pub fn put(&mut self, role: Role, shape: Shape) {
        self.items.push(Item { role, shape });
    }
    /// Adds a line.
    pub fn line(&mut self, role: Role, points: &[Pt], stroke: Stroke) {
        let points = points.to_vec();
        self.put(role, Shape::Line { points, stroke });
    }
    /// Adds a ring.
    pub fn area(&mut self, role: Role, ring: &[Pt], fill: Option<Ink>, stroke: Option<Stroke>) {
        let ring = ring.to_vec();
        self.put(role, Shape::Area { ring, fill, stroke });
    }
    /// Adds a line of upright text that starts at `at`.
    pub fn text(&mut self, role: Role, at: Pt, text: &str, look: Look) {
        self.anchored(role, at, text, look, Anchor::Start, 0.0);
    }
    /// Adds a line of text held at `anchor` and turned anticlockwise by `angle_deg`.
    pub fn anchored(&mut self, role: Role, at: Pt, text: &str, look: Look, anchor: Anchor, angle_deg: f64) {
        self.put(
            role,
            Shape::Text(Text {
                at,
                text: printable(text),
                cap_mm: look.cap_mm,
                face: look.face,
                angle_deg,
                anchor,
                ink: look.ink,
            }),
        );
    }
    /// Adds text in lines no wider than `width_mm`, downward from `top`; returns where it ends.
    pub fn paragraph(&mut self, role: Role, top: Pt, width_mm: f64, text: &str, look: Look) -> f64 {
        let mut y = top.y;
        for line in wrap(&printable(text), look.face, look.cap_mm, width_mm) {
            self.text(role.clone(), pt(top.x, y + look.rise_mm()), &line, look);
            y += look.step_mm();
        }
        y
    }
    /// Adds another page's items, moved right and down.
    pub fn stamp(&mut self, items: &[Item], by: Pt) {
        let moved = |p: &Pt| pt(p.x + by.x, p.y + by.y);
        for item in items {
            let mut item = item.clone();
            match &mut item.shape {
                Shape::Text(text) => text.at = moved(&text.at),
                Shape::Line { points: places, .. } | Shape::Area { ring: places, .. } => {
                    places.iter_mut().for_each(|p| *p = moved(p));
                }
                Shape::Strokes { segments, .. } => {
                    segments.iter_mut().flatten().for_each(|p| *p = moved(p));
                }
            }
            self.items.push(item);
        }
    }
}

/// How text looks: height of a capital, face, colour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Height of a capital in millimetres.
    pub cap_mm: f64,
    /// Face.
    pub face: Face,
    /// Colour.
    pub ink: Ink,
}

impl Look {
    /// Smallest text on a sheet: 2.5 mm.
    pub const SMALL: Look = Look::new(2.5, Face::Regular, Ink::BLACK);
    /// Smallest text, second voice.
    pub const NOTE: Look = Look::new(2.5, Face::Regular, Ink::GREY);
    /// Smallest text, bold.
    pub const STRONG: Look = Look::new(2.5, Face::Bold, Ink::BLACK);
    /// Field labels: 3.5 mm.
    pub const FIELD: Look = Look::new(3.5, Face::Regular, Ink::BLACK);
    /// Field labels, bold.
    pub const HEAD: Look = Look::new(3.5, Face::Bold, Ink::BLACK);
    /// Levels, depths and warnings: 5 mm.
    pub const BIG: Look = Look::new(5.0, Face::Bold, Ink::BLACK);

    /// Returns a look.
    pub const fn new(cap_mm: f64, face: Face, ink: Ink) -> Look {
        Look { cap_mm, face, ink }
    }
    /// Returns it in another colour.
    pub const fn in_ink(self, ink: Ink) -> Look {
        Look { ink, ..self }
    }
    /// Returns the distance from line to line.
    pub fn step_mm(self) -> f64 {
        self.cap_mm * 1.7
    }
    /// Returns the distance from the top of a line to its baseline.
    pub fn rise_mm(self) -> f64 {
        self.cap_mm * 1.25
    }
}
