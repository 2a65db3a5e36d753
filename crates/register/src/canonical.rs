//! Canonical JSON (RFC 8785), written quickly where nothing in it is out of the ordinary.
//!
//! Bodies have plain names and whole numbers, so that canonical form is the plain compact form with the members of
//! each object in order of name. Anything else is left to the library that writes all of RFC 8785; a property test
//! holds the two to the same bytes.

use serde::Serialize;
use std::ops::Range;

/// Most digits of a whole number that is written the same however it is held: below 2^53 whatever they are.
const PLAIN_DIGITS: usize = 15;

/// Writes a value as canonical JSON.
///
/// # Errors
/// A value that cannot be written as JSON.
/// # Source
/// RFC 8785, 3.2.2 (strings, numbers) and 3.2.3 (order of members).
pub fn to_vec(value: &impl Serialize) -> serde_json::Result<Vec<u8>> {
    let plain = serde_json::to_vec(value)?;
    match in_order(&plain) {
        Some(ordered) => Ok(ordered),
        None => serde_jcs::to_vec(value),
    }
}

/// Puts the members of every object of compact JSON in order; `None` when canonical form could differ in more.
fn in_order(plain: &[u8]) -> Option<Vec<u8>> {
    let mut writer = Writer {
        plain,
        at: 0,
        out: Vec::with_capacity(plain.len()),
        members: Vec::new(),
        scratch: Vec::new(),
    };
    writer.value()?;
    (writer.at == plain.len()).then_some(writer.out)
}

struct Member {
    /// Its name in the plain text, without the quotes.
    name: Range<usize>,
    /// Name, colon and value in what is written.
    whole: Range<usize>,
}

struct Writer<'p> {
    plain: &'p [u8],
    at: usize,
    out: Vec<u8>,
    /// Members of the objects that are open, innermost last.
    members: Vec<Member>,
    scratch: Vec<u8>,
}

impl Writer<'_> {
    fn value(&mut self) -> Option<()> {
        match self.next()? {
            b'{' => self.object(),
            b'[' => self.array(),
            b'"' => self.string().map(|_| ()),
            b'-' | b'0'..=b'9' => self.number(),
            b't' => self.word(b"true"),
            b'f' => self.word(b"false"),
            b'n' => self.word(b"null"),
            _ => None,
        }
    }

    fn next(&self) -> Option<u8> {
        self.plain.get(self.at).copied()
    }

    fn take(&mut self, byte: u8) -> Option<()> {
        (self.next()? == byte).then_some(())?;
        self.at += 1;
        self.out.push(byte);
        Some(())
    }

    fn word(&mut self, word: &[u8]) -> Option<()> {
        self.plain[self.at..].starts_with(word).then_some(())?;
        self.at += word.len();
        self.out.extend_from_slice(word);
        Some(())
    }

    /// Copies a string and returns where it stands in the plain text, without its quotes.
    fn string(&mut self) -> Option<Range<usize>> {
        let from = self.at;
        self.at += 1;
        loop {
            match self.next()? {
                b'"' => break,
                b'\\' => self.at += 2,
                _ => self.at += 1,
            }
        }
        self.at += 1;
        self.out.extend_from_slice(&self.plain[from..self.at]);
        Some(from + 1..self.at - 1)
    }

    fn number(&mut self) -> Option<()> {
        let from = self.at;
        if self.next() == Some(b'-') {
            self.at += 1;
        }
        let digits = self.at;
        while let Some(b'0'..=b'9') = self.next() {
            self.at += 1;
        }
        let count = self.at - digits;
        let is_fraction = matches!(self.next(), Some(b'.' | b'e' | b'E'));
        let is_minus_nothing = digits > from && self.plain[digits..self.at] == *b"0";
        if count == 0 || count > PLAIN_DIGITS || is_fraction || is_minus_nothing {
            return None;
        }
        self.out.extend_from_slice(&self.plain[from..self.at]);
        Some(())
    }

    fn array(&mut self) -> Option<()> {
        self.take(b'[')?;
        if self.next()? != b']' {
            self.value()?;
            while self.next()? == b',' {
                self.take(b',')?;
                self.value()?;
            }
        }
        self.take(b']')
    }

    fn object(&mut self) -> Option<()> {
        self.take(b'{')?;
        let (first, begin) = (self.members.len(), self.out.len());
        while self.next()? != b'}' {
            if self.members.len() > first {
                self.take(b',')?;
            }
            let from = self.out.len();
            let name = self.string()?;
            // Order is by UTF-16 units, which is that of the bytes only where each is a character of its own.
            let is_plain = |byte: &u8| byte.is_ascii() && *byte != b'\\';
            self.plain[name.clone()].iter().all(is_plain).then_some(())?;
            self.take(b':')?;
            self.value()?;
            let whole = from..self.out.len();
            self.members.push(Member { name, whole });
        }
        self.order(first, begin)?;
        self.take(b'}')
    }

    /// Puts the members of the innermost object, written from `begin` on, in order of name.
    fn order(&mut self, first: usize, begin: usize) -> Option<()> {
        let plain = self.plain;
        let members = &mut self.members[first..];
        let is_before = |a: &Member, b: &Member| plain[a.name.clone()] < plain[b.name.clone()];
        if !members.windows(2).all(|pair| is_before(&pair[0], &pair[1])) {
            members.sort_unstable_by(|a, b| plain[a.name.clone()].cmp(&plain[b.name.clone()]));
            // Of two members of one name a reader keeps either.
            members
                .windows(2)
                .all(|pair| is_before(&pair[0], &pair[1]))
                .then_some(())?;
            self.scratch.clear();
            self.scratch.extend_from_slice(&self.out[begin..]);
            self.out.truncate(begin);
            for (place, member) in members.iter().enumerate() {
                if place > 0 {
                    self.out.push(b',');
                }
                let whole = member.whole.start - begin..member.whole.end - begin;
                self.out.extend_from_slice(&self.scratch[whole]);
            }
        }
        self.members.truncate(first);
        Some(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::{Map, Number, Value, json};

    /// Writes the members in the order given, as a derived struct does; `serde_json::Map` alone would sort them.
    struct AsGiven<'v>(&'v Given);

    #[derive(Debug, Clone)]
    enum Given {
        Leaf(Value),
        List(Vec<Given>),
        Members(Vec<(String, Given)>),
    }

    impl Serialize for AsGiven<'_> {
        fn serialize<S: serde::Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
            match self.0 {
                Given::Leaf(leaf) => leaf.serialize(to),
                Given::List(items) => to.collect_seq(items.iter().map(AsGiven)),
                Given::Members(members) => to.collect_map(members.iter().map(|(n, v)| (n, AsGiven(v)))),
            }
        }
    }

    fn number() -> impl Strategy<Value = Value> {
        prop_oneof![
            any::<i64>().prop_map(Value::from),
            any::<u64>().prop_map(Value::from),
            (-1000_i64..1000).prop_map(Value::from),
            any::<f64>().prop_filter_map("finite", |f| Number::from_f64(f).map(Value::Number)),
            Just(json!(-0.0)),
        ]
    }

    fn given() -> impl Strategy<Value = Given> {
        let leaf = prop_oneof![
            Just(Value::Null),
            any::<bool>().prop_map(Value::from),
            number(),
            any::<String>().prop_map(Value::from),
            "[\\x00-\\x7f]{0,12}".prop_map(Value::from),
        ];
        leaf.prop_map(Given::Leaf).prop_recursive(4, 64, 8, |inner| {
            let name = prop_oneof!["[a-z_]{0,6}", any::<String>(), "[\\x00-\\x7f]{0,4}"];
            prop_oneof![
                prop::collection::vec(inner.clone(), 0..6).prop_map(Given::List),
                prop::collection::vec((name, inner), 0..8).prop_map(|mut members| {
                    let mut seen = std::collections::HashSet::new();
                    members.retain(|(name, _)| seen.insert(name.clone()));
                    Given::Members(members)
                }),
            ]
        })
    }

    proptest! {
        /// The oracle is serde_jcs, which is held to the vectors of RFC 8785 in `tests/canonical_json.rs`.
        #[test]
        fn every_value_is_written_as_the_library_writes_it(given in given()) {
            let ours = to_vec(&AsGiven(&given)).unwrap();
            let theirs = serde_jcs::to_vec(&AsGiven(&given)).unwrap();
            prop_assert_eq!(String::from_utf8(ours), String::from_utf8(theirs));
        }
    }

    #[test]
    fn what_is_plain_is_put_in_order_and_the_rest_is_left_to_the_library() {
        let ordered = |plain: &str| in_order(plain.as_bytes()).map(|out| String::from_utf8(out).unwrap());
        let plain = r#"{"v":1,"a":[{"y":"é\"}","x":-7},[],{}],"_":null,"A":true}"#;
        let wanted = r#"{"A":true,"_":null,"a":[{"x":-7,"y":"é\"}"},[],{}],"v":1}"#;
        assert_eq!(ordered(plain).as_deref(), Some(wanted));
        for other in [
            "1.5",
            "1e3",
            "-0",
            "9007199254740993",
            r#"{"é":1}"#,
            r#"{"\n":1}"#,
            r#"{"a":1,"a":2}"#,
        ] {
            assert_eq!(ordered(other), None, "{other}");
        }
        let mut map = Map::new();
        map.insert("\u{e000}".into(), 1.into());
        map.insert("\u{1f4a9}".into(), 2.into());
        // RFC 8785, 3.2.3: by UTF-16 units the second comes first.
        assert_eq!(
            to_vec(&map).unwrap(),
            "{\"\u{1f4a9}\":2,\"\u{e000}\":1}".as_bytes()
        );
    }
}
