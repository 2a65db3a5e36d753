use super::*;

fn adopted(id: &str, confirmed: &[&str], left_out: &[&str]) -> Adopted {
    let shipped = SHIPPED.iter().find(|s| s.id == id).unwrap();
    let text = shipped.text.to_string();
    let list = |ids: &[&str]| ids.iter().map(|s| s.to_string()).collect();
    Adopted::read(
        &RulesAdopted {
            text,
            confirmed: list(confirmed),
            left_out: list(left_out),
        },
        1,
    )
    .unwrap()
}

#[test]
fn every_shipped_set_reads_and_cites_every_figure() {
    for shipped in SHIPPED {
        let set = RuleSet::read(shipped.text).unwrap();
        assert_eq!(set.id, shipped.id);
        for cited in set.citations() {
            assert!(!cited.source.is_empty() && !cited.edition.is_empty() && !cited.clause.is_empty());
        }
    }
}

#[test]
fn a_figure_that_nobody_saw_counts_only_once_confirmed() {
    assert!(adopted("gb-site-practice", &[], &[]).dig().is_none());
    let confirmed = adopted("gb-site-practice", &["gb-hand-dig"], &[]);
    assert_eq!(confirmed.dig().map(|d| d.hand_dig_m), Some(0.5));
}

#[test]
fn the_largest_cover_governs_unless_its_situation_is_left_out() {
    // NFPA 70 Table 300.5, nonmetallic raceways: 24 in under streets, 18 in elsewhere.
    let everywhere = adopted("us-nec-conduit-cover", &[], &[]);
    assert_eq!(
        everywhere.cover(Service::ElectricLv).map(|r| r.minimum_m),
        Some(0.6096)
    );
    let garden = adopted("us-nec-conduit-cover", &[], &["nec-c-street"]);
    assert_eq!(
        garden.cover(Service::ElectricLv).map(|r| r.minimum_m),
        Some(0.4572)
    );
    assert!(garden.cover(Service::Gas).is_none());
}

#[test]
fn the_steepest_fall_is_asked_of_a_run_without_a_size() {
    // International Plumbing Code Table 704.1, as carried by a city code: 1/4, 1/8, 1/16 in per foot.
    let rules = adopted("us-ipc-drain-fall", &[], &[]);
    let fall = |size| {
        rules
            .fall(Service::Sewer, size)
            .map(|r| (r.minimum * 12.0 * 1e6).round() / 1e6)
    };
    assert_eq!(fall(Some(50.0)), Some(0.25));
    assert_eq!(fall(Some(100.0)), Some(0.125));
    assert_eq!(fall(Some(225.0)), Some(0.0625));
    assert_eq!(fall(None), Some(0.25));
}

#[track_caller]
fn refused(change: (&str, &str), expected: &str) {
    let text = SHIPPED[4].text.replace(change.0, change.1);
    let error = RuleSet::read(&text).unwrap_err().to_string();
    assert!(error.contains(expected), "{error}");
}

#[test]
fn a_set_that_could_mislead_is_refused_with_its_figure_named() {
    refused(("coverbook.rules/1", "coverbook.rules/9"), "this program reads");
    refused(
        ("near_m = 2.0", "near_m = 0.2"),
        "gb-hand-dig: near_m is 0.2; it must be no less than hand_dig_m",
    );
    refused(("minimum_m = 0.75", "minimum_m = -0.75"), "minimum_m is -0.75");
    refused(("id = \"adh-150\"", "id = \"adh-100-low-flow\""), "stands twice");
    refused(("clause = \"Schedule 2\"", ""), "clause");
    refused(("status = \"second-hand\"", "status = \"sure\""), "sure");
}

#[test]
fn confirming_a_figure_that_is_not_there_is_refused() {
    let text = SHIPPED[4].text.to_string();
    let adoption = RulesAdopted {
        text,
        confirmed: vec!["no-such".into()],
        left_out: vec![],
    };
    assert_eq!(
        Adopted::read(&adoption, 1),
        Err(RulesError::NoSuchFigure("no-such".into()))
    );
}

/// Feet and inches of the sources as the sets cite them; 1 ft is 0.3048 m and 1 in 0.0254 m exactly.
#[test]
fn separations_are_the_feet_and_inches_of_their_clauses() {
    for (set, id, metres, in_clause) in [
        ("us-ipc-water-separation", "ipc-603-2", 5.0 * 0.3048, "5 ft"),
        ("us-ny-water-separation", "ny-75a-beside", 10.0 * 0.3048, "10 ft"),
        (
            "us-ny-water-separation",
            "ny-75a-water-above",
            12.0 * 0.0254,
            "12 in",
        ),
        (
            "us-ny-water-separation",
            "ny-75a-water-below",
            18.0 * 0.0254,
            "18 in",
        ),
        (
            "us-oh-park-water-separation",
            "oh-4781-beside",
            10.0 * 0.3048,
            "10 ft",
        ),
        (
            "us-oh-park-water-separation",
            "oh-4781-water-above",
            18.0 * 0.0254,
            "18 in",
        ),
        ("au-nz-separation", "asnzs3000-other-services", 0.1, "100 mm"),
        (
            "au-nz-separation",
            "asnzs3500-water-in-drain-trench",
            0.05,
            "50 mm",
        ),
        ("slab-tendon-separation", "tendon-sleeve", 0.075, "75 mm"),
    ] {
        let shipped = SHIPPED.iter().find(|s| s.id == set).unwrap();
        let read = RuleSet::read(shipped.text).unwrap();
        let rule = read.separation.iter().find(|r| r.cited.id == id).unwrap();
        assert!((rule.minimum_m - metres).abs() < 1e-12, "{id}");
        assert!(rule.cited.clause.contains(in_clause), "{id}");
    }
}
