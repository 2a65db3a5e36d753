//! Labels that never overlap: each finds a free place near what it names, with a line to it.

use super::hatch::{self, Ground};
use crate::font::{printable, text_width_mm};
use crate::page::{Ink, Look, Page, Pt, Rect, Role, Stroke, pt};

const PAD_MM: f64 = 0.9;
/// What a shorter label must save before it is chosen over the whole one.
const SHORTER_WHEN: f64 = 14.0;
/// A label farther from its point than this would be read as another's; its figures stand in the table then.
const FARTHEST_MM: f64 = 45.0;

/// A label to place.
#[derive(Debug, Clone)]
pub struct Label {
    /// What it names.
    pub at: Pt,
    /// Lines from the top.
    pub lines: Vec<(String, Look)>,
    /// Fewer lines, for where all find no room; empty when there are none.
    pub short: Vec<(String, Look)>,
    /// True when a line joins it to what it names.
    pub leader: bool,
    /// True when it lies in a thin frame.
    pub framed: bool,
    /// When it may stand on hatched ground only: which.
    pub on_hatch: Option<Hatched>,
}

impl Label {
    fn size(&self) -> (f64, f64) {
        let width = self
            .lines
            .iter()
            .map(|(text, look)| text_width_mm(&printable(text), look.face, look.cap_mm))
            .fold(0.0, f64::max);
        let height: f64 = self.lines.iter().map(|(_, look)| look.cap_mm * 1.5).sum();
        (width + 2.0 * PAD_MM, height + PAD_MM)
    }

    fn draw(&self, place: &Rect, page: &mut Page) {
        let frame = self.framed.then(|| Stroke::solid(0.18, Ink::GREY));
        page.area(Role::Label, &place.corners(), Some(Ink::WHITE), frame);
        let mut y = place.y + PAD_MM / 2.0;
        for (text, look) in &self.lines {
            y += look.cap_mm * 1.5;
            let baseline = y - look.cap_mm * 0.35;
            page.text(Role::Label, pt(place.x + PAD_MM, baseline), text, *look);
        }
    }
}

/// Hatched ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hatched {
    /// Inside the dig.
    InDig,
    /// Outside it.
    Around,
}

/// Takes places on the plan one after the other; what is taken stays taken.
#[derive(Debug)]
pub struct Placer {
    view: Rect,
    ground: Ground,
    taken: Vec<Rect>,
    leaders: Vec<[Pt; 2]>,
    lines: Vec<[Pt; 2]>,
    walls: Vec<[Pt; 2]>,
}

impl Placer {
    /// Returns a placer for labels inside `view`.
    pub fn new(view: Rect, ground: Ground) -> Placer {
        Placer {
            view: view.grown(-1.0),
            ground,
            taken: Vec::new(),
            leaders: Vec::new(),
            lines: Vec::new(),
            walls: Vec::new(),
        }
    }
    /// Keeps letters off a line.
    pub fn wall(&mut self, line: &[Pt]) {
        self.walls.extend(line.windows(2).map(|p| [p[0], p[1]]));
    }
    /// True when no wall and no leader runs through the place.
    pub fn is_uncrossed(&self, place: &Rect) -> bool {
        let mut lines = self.walls.iter().chain(&self.leaders);
        !lines.any(|line| crosses_rect(line, place))
    }
    /// Keeps labels off a place altogether.
    pub fn take(&mut self, place: Rect) {
        self.taken.push(place);
    }
    /// True when nothing has taken any of the place and it lies inside the view.
    pub fn is_free(&self, place: &Rect) -> bool {
        self.view.holds(place) && !self.taken.iter().any(|t| t.overlaps(place))
    }
    fn is_hatched(&self, place: &Rect, which: Hatched) -> bool {
        (0..=8).all(|i| {
            (0..=3).all(|j| {
                let (x, y) = (f64::from(i) / 8.0 * place.w, f64::from(j) / 3.0 * place.h);
                let at = pt(place.x + x, place.y + y);
                self.is_in_dig(at) == (which == Hatched::InDig) && hatch::covers(&self.ground, at)
            })
        })
    }
    fn is_in_dig(&self, at: Pt) -> bool {
        let around = self.ground.dig.iter().filter(|ring| hatch::holds(ring, at));
        around.count() % 2 == 1
    }
    /// True when any of the dig lies under the place.
    fn is_on_dig(&self, place: &Rect) -> bool {
        let mut edges = self.ground.dig.iter().flat_map(|ring| {
            let next = ring.iter().cycle().skip(1);
            ring.iter().zip(next).map(|(a, b)| [*a, *b])
        });
        edges.any(|edge| crosses_rect(&edge, place)) || self.is_in_dig(place.middle())
    }
    /// Keeps labels off a line where they can.
    pub fn avoid(&mut self, line: &[Pt]) {
        self.lines.extend(line.windows(2).map(|p| [p[0], p[1]]));
    }
    /// Places labels in order and draws them, leaders first; returns those that found no place.
    pub fn place_all(&mut self, labels: Vec<Label>, page: &mut Page) -> Vec<Label> {
        let mut left = Vec::new();
        let mut placed = Vec::new();
        for mut label in labels {
            let mut found = self.find(&label);
            if !label.short.is_empty() && found.is_none_or(|(cost, _)| cost > SHORTER_WHEN) {
                let mut shorter = label.clone();
                shorter.lines = std::mem::take(&mut label.short);
                let other = self.find(&shorter);
                let saved =
                    |(cost, _): (f64, Rect)| other.is_some_and(|(less, _)| less + SHORTER_WHEN < cost);
                if found.is_none_or(saved) {
                    (label, found) = (shorter, other);
                }
            }
            match found {
                Some((_, place)) => {
                    self.taken.push(place.grown(0.4));
                    if label.leader {
                        self.leaders.push([label.at, nearest(&place, label.at)]);
                    }
                    placed.push((label, place));
                }
                None => left.push(label),
            }
        }
        for (label, place) in &placed {
            // From the edge of the mark, so that the mark stays whole.
            let end = nearest(place, label.at);
            let length = label.at.distance(end);
            let mark = if label.framed { 1.1 } else { 2.6 };
            if label.leader && length > mark {
                let t = mark / length;
                let start = pt(
                    label.at.x + t * (end.x - label.at.x),
                    label.at.y + t * (end.y - label.at.y),
                );
                page.line(Role::Leader, &[start, end], Stroke::solid(0.9, Ink::WHITE));
                page.line(Role::Leader, &[start, end], Stroke::solid(0.25, Ink::BLACK));
            }
        }
        for (label, place) in &placed {
            label.draw(place, page);
        }
        left
    }

    fn find(&self, label: &Label) -> Option<(f64, Rect)> {
        let (w, h) = label.size();
        let is_of_dig = self.is_in_dig(label.at);
        let mut best: Option<(f64, Rect)> = None;
        let mut consider = |centre: Pt, away: f64| {
            let place = Rect::new(centre.x - w / 2.0, centre.y - h / 2.0, w, h);
            if !self.is_free(&place) {
                return;
            }
            if label
                .on_hatch
                .is_some_and(|which| !self.is_hatched(&place, which))
            {
                return;
            }
            if label.leader && place.grown(1.2).has(label.at) {
                return;
            }
            // A figure that lies on the dig is read as the dig's own.
            if label.leader && !is_of_dig && self.is_on_dig(&place) {
                return;
            }
            if label.leader && label.at.distance(nearest(&place, label.at)) > FARTHEST_MM {
                return;
            }
            let leader = [label.at, nearest(&place, label.at)];
            let crossed = |line: &[Pt; 2]| u32::from(crosses_rect(line, &place));
            let over_lines: u32 = self.lines.iter().map(crossed).sum();
            let over_leaders: u32 = self.leaders.iter().map(crossed).sum();
            let over_walls: u32 = self.walls.iter().map(crossed).sum();
            let mut cost = away
                + 9.0 * f64::from(over_lines)
                + 25.0 * f64::from(over_walls)
                + 60.0 * f64::from(over_leaders);
            if label.leader {
                let through = self.taken.iter().filter(|t| crosses_rect(&leader, t)).count();
                let across = self.leaders.iter().filter(|l| cross(l, &leader)).count();
                cost += 200.0 * through as f64 + 30.0 * across as f64;
            }
            if best.is_none_or(|(least, _)| cost < least) {
                best = Some((cost, place));
            }
        };
        if !label.leader {
            consider(label.at, 0.0);
        }
        for ring in 0..26 {
            let gap = 3.0 + 3.5 * f64::from(ring);
            for turn in 0..32 {
                let (sin, cos) = (f64::from(turn) * std::f64::consts::TAU / 32.0).sin_cos();
                let centre = pt(
                    label.at.x + cos * (gap + w / 2.0),
                    label.at.y + sin * (gap + h / 2.0),
                );
                consider(centre, gap);
            }
        }
        best
    }
}

fn nearest(place: &Rect, to: Pt) -> Pt {
    pt(
        to.x.clamp(place.x, place.right()),
        to.y.clamp(place.y, place.bottom()),
    )
}

fn crosses_rect(line: &[Pt; 2], place: &Rect) -> bool {
    super::frame::clip_segment(line[0], line[1], place).is_some()
}

fn cross(one: &[Pt; 2], two: &[Pt; 2]) -> bool {
    let turn = |a: Pt, b: Pt, c: Pt| (b.x - a.x) * (c.y - a.y) - (b.y - a.y) * (c.x - a.x);
    turn(one[0], one[1], two[0]) * turn(one[0], one[1], two[1]) < 0.0
        && turn(two[0], two[1], one[0]) * turn(two[0], two[1], one[1]) < 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page::Shape;

    const DIG: Rect = Rect {
        x: 60.0,
        y: 0.0,
        w: 10.0,
        h: 80.0,
    };

    /// Places one label of a point beside a dig, where `taken` has the room; returns its frame, if it found a place.
    fn placed(taken: &[Rect]) -> Option<Rect> {
        let ground = Ground {
            dig: vec![DIG.corners().to_vec()],
            ..Ground::default()
        };
        let mut placer = Placer::new(Rect::new(0.0, 0.0, 200.0, 80.0), ground);
        taken.iter().for_each(|rect| placer.take(*rect));
        let label = Label {
            at: pt(57.0, 40.0),
            lines: vec![("3.201".into(), Look::SMALL)],
            short: Vec::new(),
            leader: true,
            framed: true,
            on_hatch: None,
        };
        let mut page = Page::new(200.0, 80.0);
        let left = placer.place_all(vec![label], &mut page);
        let frame = page
            .items
            .iter()
            .find_map(|item| match (&item.role, &item.shape) {
                (Role::Label, Shape::Area { ring, .. }) => Some(crate::page::around(ring)),
                _ => None,
            });
        assert_eq!(left.len(), usize::from(frame.is_none()));
        frame
    }

    #[test]
    fn the_figure_of_a_point_beside_the_dig_never_lies_on_the_dig() {
        let left_side = Rect::new(0.0, 0.0, 56.0, 80.0);
        let place = placed(&[left_side]).unwrap();
        assert!(!place.overlaps(&DIG), "{place:?}");
        assert!(pt(57.0, 40.0).distance(nearest(&place, pt(57.0, 40.0))) <= FARTHEST_MM);
    }

    #[test]
    fn a_figure_that_would_stand_far_from_its_point_is_left_to_the_table() {
        assert_eq!(placed(&[Rect::new(0.0, 0.0, 104.0, 80.0)]), None);
    }
}
