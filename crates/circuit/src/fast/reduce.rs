//! Takes out what no position of the contacts can change.
//!
//! **In:** links between points, each with its conductance and the contacts it needs closed; the
//! two poles; the pairs of points whose voltage is asked for.
//! **Out:** fewer links and points with the same voltages, each asked voltage as a sum of factors
//! times voltages between points that are left.
//! **Never here:** positions, volts.
//!
//! A series chain of contacts and resistances is whole or open, so it is one link that needs all
//! its contacts. A point between two fixed resistances has a fixed share of their voltage. A dead
//! end carries no current. Only positive numbers are added, multiplied and divided.

use crate::union::Union;

/// A conductance between two points that is there while all its contacts are closed.
#[derive(Debug, Clone)]
pub(super) struct Link {
    pub(super) ends: (usize, usize),
    /// S; infinite: an ideal contact.
    pub(super) siemens: f64,
    /// Empty: always there.
    pub(super) contacts: Vec<usize>,
}

/// A share of an asked voltage: a factor times the voltage between two points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Term {
    pub(super) factor: f64,
    pub(super) ends: (usize, usize),
}

impl Term {
    /// No voltage, but floating if this point floats.
    fn nothing(point: usize) -> Self {
        Self { factor: 0.0, ends: (point, point) }
    }
    fn between((a, b): (usize, usize)) -> Self {
        if a == b { Self::nothing(a) } else { Self { factor: 1.0, ends: (a, b) } }
    }
}

/// What is left.
#[derive(Debug)]
pub(super) struct Reduced {
    pub(super) links: Vec<Link>,
    /// By asked pair.
    pub(super) asked: Vec<Vec<Term>>,
    pub(super) poles: (usize, usize),
}

struct Bench {
    links: Vec<Option<Link>>,
    at: Vec<Vec<usize>>,
    asked: Vec<Vec<Term>>,
    /// By point: the asked pairs that may name it.
    named_by: Vec<Vec<usize>>,
    poles: (usize, usize),
}

/// Reduces a network of so many points.
pub(super) fn reduce(
    points: usize,
    links: Vec<Link>,
    poles: (usize, usize),
    asked: &[(usize, usize)],
) -> Reduced {
    let mut one = Union::new(points);
    for link in &links {
        if link.contacts.is_empty() && link.siemens.is_infinite() {
            one.join(link.ends.0, link.ends.1, 0.0);
        }
    }
    let mut place = |ends: (usize, usize)| (one.root(ends.0), one.root(ends.1));
    let mut bench = Bench {
        links: Vec::with_capacity(links.len()),
        at: vec![Vec::new(); points],
        asked: asked.iter().map(|&ends| vec![Term::between(place(ends))]).collect(),
        named_by: vec![Vec::new(); points],
        poles: place(poles),
    };
    for mut link in links {
        link.ends = place(link.ends);
        bench.add(link);
    }
    for (index, terms) in bench.asked.iter().enumerate() {
        for &Term { ends: (a, b), .. } in terms {
            bench.named_by[a].push(index);
            bench.named_by[b].push(index);
        }
    }
    let mut queue: Vec<usize> = (0..points).rev().collect();
    while let Some(point) = queue.pop() {
        if point != bench.poles.0 && point != bench.poles.1 {
            queue.extend(bench.take_out(point));
        }
    }
    let links = bench.links.into_iter().flatten().collect();
    Reduced { links, asked: bench.asked, poles: bench.poles }
}

impl Bench {
    fn add(&mut self, link: Link) {
        let (a, b) = link.ends;
        if a != b {
            self.at[a].push(self.links.len());
            self.at[b].push(self.links.len());
            self.links.push(Some(link));
        }
    }

    /// Takes a point out if that costs nothing; returns the neighbours it had then.
    fn take_out(&mut self, point: usize) -> Vec<usize> {
        let links = &self.links;
        self.at[point].retain(|&link| links[link].is_some());
        self.join_side_by_side(point);
        let is_named = !self.named_by[point].is_empty();
        let around: Vec<(usize, f64, bool)> = self.at[point]
            .iter()
            .filter_map(|&link| self.links[link].as_ref())
            .map(|link| {
                let other = if link.ends.0 == point { link.ends.1 } else { link.ends.0 };
                (other, link.siemens, link.contacts.is_empty())
            })
            .collect();
        match around[..] {
            [(other, _, fixed)] if fixed || !is_named => {
                self.put_instead(point, &[(other, 1.0)]);
                self.remove_around(point);
                vec![other]
            }
            [(one, a, fixed_a), (two, b, fixed_b)] if !is_named || (fixed_a && fixed_b) => {
                if one == two {
                    self.put_instead(point, &[(one, 1.0)]);
                    self.remove_around(point);
                    return vec![one];
                }
                if is_named {
                    self.put_instead(point, &[(one, a / (a + b)), (two, b / (a + b))]);
                }
                let contacts =
                    self.remove_around(point).into_iter().flat_map(|link| link.contacts).collect();
                self.add(Link { ends: (one, two), siemens: in_series(a, b), contacts });
                vec![one, two]
            }
            _ => Vec::new(),
        }
    }

    /// Makes fixed links side by side one. Points with many links are not worth the search.
    fn join_side_by_side(&mut self, point: usize) {
        const MANY: usize = 8;
        let at = self.at[point].clone();
        if at.len() > MANY {
            return;
        }
        for (index, &first) in at.iter().enumerate() {
            for &second in &at[index + 1..] {
                let (Some(a), Some(b)) = (&self.links[first], &self.links[second]) else {
                    continue;
                };
                let same = a.ends == b.ends || a.ends == (b.ends.1, b.ends.0);
                if same && a.contacts.is_empty() && b.contacts.is_empty() {
                    let siemens = b.siemens;
                    self.links[second] = None;
                    if let Some(link) = &mut self.links[first] {
                        link.siemens += siemens;
                    }
                }
            }
        }
        let links = &self.links;
        self.at[point].retain(|&link| links[link].is_some());
    }

    fn remove_around(&mut self, point: usize) -> Vec<Link> {
        let at = std::mem::take(&mut self.at[point]);
        at.into_iter().filter_map(|link| self.links[link].take()).collect()
    }

    /// Says the voltages of a point by those of others: a mean with these weights.
    fn put_instead(&mut self, point: usize, others: &[(usize, f64)]) {
        for index in std::mem::take(&mut self.named_by[point]) {
            let terms = std::mem::take(&mut self.asked[index]);
            for term in terms {
                let (a, b) = term.ends;
                if a != point && b != point {
                    self.asked[index].push(term);
                    continue;
                }
                let before = self.asked[index].len();
                for &(other, weight) in others {
                    let put = |end: usize| if end == point { other } else { end };
                    let ends = (put(a), put(b));
                    if ends.0 != ends.1 && weight > 0.0 {
                        self.asked[index].push(Term { factor: term.factor * weight, ends });
                    }
                }
                if self.asked[index].len() == before
                    && let Some(&(other, _)) = others.first()
                {
                    self.asked[index].push(Term::nothing(other));
                }
            }
            for &(other, _) in others {
                self.named_by[other].push(index);
            }
        }
    }
}

fn in_series(a: f64, b: f64) -> f64 {
    if a.is_infinite() {
        b
    } else if b.is_infinite() {
        a
    } else {
        a * b / (a + b)
    }
}
