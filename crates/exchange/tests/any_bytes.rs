//! Whatever the bytes, every reader answers: a draft or a refusal, never a panic and never both or neither.

mod common;

use common::{observed, options};
use coverbook_exchange::{
    LevelOptions, Reading, read_control, read_expected, read_levels, read_observations, read_points,
    read_searched, read_surface,
};
use proptest::prelude::*;
use register::view::Severity;
use register::words::{AngleRead, Spread};

fn hold<T>(reading: &Reading<T>) {
    let shown = |severity| reading.findings.iter().filter(|f| f.severity == severity).count() as u64;
    assert_eq!(
        reading.draft.is_none(),
        reading.refusals > 0,
        "{:#?}",
        reading.findings
    );
    // Refusals come first, so one that exists is shown.
    assert_eq!(shown(Severity::Refusal), reading.refusals.min(200));
    assert!(shown(Severity::Doubt) <= reading.doubts);
    assert!(reading.findings.len() <= 200);
    assert!(reading.findings.is_sorted_by(|a, b| a.severity >= b.severity));
    assert!(!(reading.order_needed && reading.draft.is_some()));
}

fn read_all(bytes: &[u8]) {
    for order in [
        None,
        Some(vec![
            "point".into(),
            "easting".into(),
            "northing_ft".into(),
            "level".into(),
        ]),
    ] {
        let mut options = options();
        options.order = order;
        hold(&read_points(bytes, &options, &mut |_| {}));
        hold(&read_control(bytes, &options, &mut |_| {}));
        hold(&read_surface(bytes, &options, &mut |_| {}));
        hold(&read_searched(bytes, &options, &mut |_| {}));
        hold(&read_expected(bytes, &options, &mut |_| {}));
        let angles = observed(AngleRead::Degrees);
        hold(&read_observations(bytes, &options, &angles, &mut |_| {}));
        let book = LevelOptions {
            book: "B".into(),
            allowable_k_mm: None,
            by_setups: false,
            spread: Spread::NotSpread,
            setup_sigma_mm: None,
        };
        hold(&read_levels(bytes, &options, &book, &mut |_| {}));
    }
}

/// Pieces that files are made of, put together without sense.
fn pieces() -> impl Strategy<Value = String> {
    let piece = proptest::sample::select(vec![
        "point,easting,northing,level,touched\n",
        "run,service,size_mm\n",
        "easting,northing,level,breakline\n",
        "area,easting,northing,services,method,down_to_level,outcome\n",
        "point;easting_ft;northing;level;touched;run;order\r\n",
        "A",
        "B",
        "432100",
        "5811000.5",
        "12,5",
        "12",
        "centre",
        "gas",
        "R1",
        "1e9",
        "-0",
        "NaN",
        "999999999999999",
        "0.000000000000001",
        ",",
        ",",
        ",",
        ";",
        "\t",
        "\n",
        "\r\n",
        "\r",
        "\"",
        "\"\"",
        " ",
        "\u{e9}",
        "\u{feff}",
        "\0",
        "all",
        "unable",
        "A,432100,5811000,12,centre\n",
        "A,432101,5811000,12\n",
        "432100,5811000,12,k\n",
        "\"A\nB\",432102,5811000,12,centre\n",
        "S,432100,5811000,all,eye,1,unable\n",
        "target,kind,direction,zenith,slope,target_height,prism_mm,touched,run,face,station\n",
        "C,control,10,90,30,1.5,0,,,left,S\n",
        "C,check,190,270,30,1.5,0,,,,T\n",
        "P,shot,20,92,10,1.3,0,centre,R1,left,S\n",
        "P,shot,200,268,10,1.3,0,,R1,right,S\n",
        "point,back,inter,fore,known_level\n",
        "A,1.2,,,12\n",
        "B,,-1.1,,\n",
    ]);
    proptest::collection::vec(piece, 0..40).prop_map(|pieces| pieces.concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn senseless_tables_are_answered(text in pieces()) {
        read_all(text.as_bytes());
    }

    #[test]
    fn random_bytes_are_answered(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        read_all(&bytes);
    }
}
