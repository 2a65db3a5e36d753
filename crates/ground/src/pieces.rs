//! The connected pieces of what two lines have near one another, told leg by leg.

use std::collections::HashMap;

/// Sorts pairs of legs into the pieces that hang together, each in ascending order.
///
/// The part of the space that belongs to a pair `(i, j)` is convex. It goes on into `(i + 1, j)` where vertex `i + 1` of
/// the first comes near leg `j` of the second, and into `(i, j + 1)` where vertex `j + 1` of the second comes near leg `i`
/// of the first: `open(which, vertex, leg of the other)` tells.
pub(crate) fn pieces(
    pairs: &[[usize; 2]],
    open: impl Fn(usize, usize, usize) -> bool,
) -> Vec<Vec<[usize; 2]>> {
    let place: HashMap<[usize; 2], usize> = pairs.iter().enumerate().map(|(n, &pair)| (pair, n)).collect();
    let mut parent: Vec<usize> = (0..pairs.len()).collect();
    for (n, &[i, j]) in pairs.iter().enumerate() {
        if let Some(&next) = place.get(&[i + 1, j])
            && open(0, i + 1, j)
        {
            join(&mut parent, n, next);
        }
        if let Some(&next) = place.get(&[i, j + 1])
            && open(1, j + 1, i)
        {
            join(&mut parent, n, next);
        }
    }
    let mut found: Vec<Vec<[usize; 2]>> = Vec::new();
    let mut piece_of: HashMap<usize, usize> = HashMap::new();
    for (n, &pair) in pairs.iter().enumerate() {
        let root = root_of(&mut parent, n);
        let piece = *piece_of.entry(root).or_insert_with(|| {
            found.push(Vec::new());
            found.len() - 1
        });
        found[piece].push(pair);
    }
    for piece in &mut found {
        piece.sort_unstable();
    }
    found
}

fn root_of(parent: &mut [usize], mut n: usize) -> usize {
    while parent[n] != n {
        parent[n] = parent[parent[n]];
        n = parent[n];
    }
    n
}

fn join(parent: &mut [usize], a: usize, b: usize) {
    let (a, b) = (root_of(parent, a), root_of(parent, b));
    parent[a] = b;
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pairs_that_are_neighbours_by_number_alone_are_two_pieces() {
        // A vee over one long leg: both its legs cross it, and its corner is far away.
        let pairs = [[0, 0], [0, 1]];
        assert_eq!(pieces(&pairs, |_, _, _| false).len(), 2);
        assert_eq!(pieces(&pairs, |_, _, _| true), vec![vec![[0, 0], [0, 1]]]);
    }
}
