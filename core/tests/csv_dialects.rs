//! CSV as loggers and spreadsheets write it: read rightly, or asked about; never misread.

use trued::format::{Content, Decimal, Input, Units, Wanted, read};
use trued::{Point, Trace};

/// The trace all dialects tell of: two strokes' worth of corners, in mm.
const POINTS: [(f64, f64); 5] = [
    (0.0, 0.5),
    (12.5, 0.25),
    (12.75, -8.125),
    (1234.5, 20.0),
    (3.0, 4.0),
];

fn wanted() -> Wanted {
    Wanted::from(Units::Mm)
}

fn read_as(bytes: &[u8], wanted: &Wanted) -> Result<(Trace, Vec<String>), String> {
    match read("a.csv", bytes, wanted.clone()) {
        Ok(Input {
            content: Content::Trace(trace),
            notes,
            ..
        }) => Ok((trace, notes.into_iter().map(|n| n.text).collect())),
        Ok(other) => panic!("{other:?}"),
        Err(refusal) => Err(refusal.to_string()),
    }
}

fn points(trace: &Trace) -> Vec<Point> {
    trace
        .strokes
        .iter()
        .flat_map(|s| s.points.clone())
        .collect()
}

/// The points as rows: between fields, the decimal sign, what begins and ends a row.
fn rows(between: &str, decimal: &str, begin: &str, end: &str) -> String {
    let number = |v: f64| v.to_string().replace('.', decimal);
    POINTS
        .iter()
        .map(|(x, y)| format!("{begin}{}{between}{}{end}", number(*x), number(*y)))
        .collect()
}

fn utf16(text: &str, mark: bool, order: fn(u16) -> [u8; 2]) -> Vec<u8> {
    let mark = mark.then_some('\u{feff}');
    mark.into_iter()
        .chain(text.chars())
        .collect::<String>()
        .encode_utf16()
        .flat_map(order)
        .collect()
}

fn latin1(text: &str) -> Vec<u8> {
    text.chars()
        .map(|c| u8::try_from(u32::from(c)).expect("Latin-1"))
        .collect()
}

#[test]
fn thirty_dialects_tell_the_same_trace() {
    let text = |t: String| t.into_bytes();
    let inches = |decimal: &str, between: &str| -> String {
        let number = |v: f64| format!("{:.9}", v / 25.4).replace('.', decimal);
        POINTS
            .iter()
            .map(|(x, y)| format!("{}{between}{}\n", number(*x), number(*y)))
            .collect()
    };
    let spreadsheet = format!("Export;;\nMachine 3;;\n;;\nNr;X [mm];Y [mm]\n{}", {
        let body = rows(";", ",", "", "\n");
        body.lines()
            .enumerate()
            .map(|(i, l)| format!("{};{l}\n", i + 1))
            .collect::<String>()
    });
    let dialects: Vec<(&str, Vec<u8>)> = vec![
        ("plain", text(format!("x,y\n{}", rows(",", ".", "", "\n")))),
        (
            "semicolons",
            text(format!("x;y\n{}", rows(";", ".", "", "\n"))),
        ),
        (
            "semicolons and decimal commas",
            text(format!("x;y\n{}", rows(";", ",", "", "\n"))),
        ),
        ("tabs", text(format!("x\ty\n{}", rows("\t", ".", "", "\n")))),
        (
            "tabs and decimal commas",
            text(format!("X\tY\n{}", rows("\t", ",", "", "\n"))),
        ),
        (
            "blanks",
            text(format!("x y\n{}", rows("  ", ".", " ", "\n"))),
        ),
        (
            "blanks and decimal commas",
            text(format!("x y\n{}", rows(" ", ",", "", "\n"))),
        ),
        ("bars", text(format!("x|y\n{}", rows("|", ".", "", "\n")))),
        (
            "comma and blank",
            text(format!("x, y\n{}", rows(", ", ".", "", "\n"))),
        ),
        (
            "comma and blank, decimal commas",
            text(format!("x, y\n{}", rows(", ", ",", "", "\n"))),
        ),
        ("no header", text(rows(",", ".", "", "\n"))),
        ("no header, blanks", text(rows(" ", ".", "", "\n"))),
        ("no header, decimal commas", text(rows(";", ",", "", "\n"))),
        (
            "units in brackets",
            text(format!("X [mm];Y [mm]\n{}", rows(";", ".", "", "\n"))),
        ),
        (
            "inches in the header",
            text(format!("x(in),y(in)\n{}", inches(".", ","))),
        ),
        (
            "inches and decimal commas",
            text(format!("X in;Y in\n{}", inches(",", ";"))),
        ),
        (
            "units below the header",
            text(format!("x;y\nmm;mm\n{}", rows(";", ".", "", "\n"))),
        ),
        (
            "inches below the header",
            text(format!("x,y\n[in],[in]\n{}", inches(".", ","))),
        ),
        (
            "titles above",
            text(format!(
                "Probe run 7\nOperator: Ana\n\nx,y\n{}",
                rows(",", ".", "", "\n")
            )),
        ),
        ("a spreadsheet with numbered rows", text(spreadsheet)),
        (
            "sep=",
            text(format!("sep=;\r\nx;y\r\n{}", rows(";", ",", "", "\r\n"))),
        ),
        (
            "trailing separators",
            text(format!("x,y,\n{}", rows(",", ".", "", ",\n"))),
        ),
        (
            "trailing semicolons",
            text(format!("x;y\n{}", rows(";", ",", "", ";;\n"))),
        ),
        (
            "UTF-16, little end first",
            utf16(
                &format!("x\ty\n{}", rows("\t", ",", "", "\n")),
                true,
                u16::to_le_bytes,
            ),
        ),
        (
            "UTF-16, big end first",
            utf16(
                &format!("x,y\n{}", rows(",", ".", "", "\n")),
                true,
                u16::to_be_bytes,
            ),
        ),
        (
            "UTF-16 without a mark",
            utf16(
                &format!("x,y\n{}", rows(",", ".", "", "\n")),
                false,
                u16::to_le_bytes,
            ),
        ),
        (
            "Latin-1",
            latin1(&format!(
                "Maß x;Größe\n\nx;y;Länge\n{}",
                rows(";", ",", "", ";7\n")
            )),
        ),
        (
            "a mark of UTF-8",
            text(format!("\u{feff}x,y\n{}", rows(",", ".", "", "\n"))),
        ),
        (
            "CR alone",
            text(format!("x,y\r{}", rows(",", ".", "", "\r"))),
        ),
        (
            "CR LF",
            text(format!("x,y\r\n{}", rows(",", ".", "", "\r\n"))),
        ),
        (
            "quotes around all",
            text(format!("\"x\",\"y\"\n{}", rows("\",\"", ".", "\"", "\"\n"))),
        ),
        (
            "quotes around decimal commas",
            text(format!("\"x\",\"y\"\n{}", rows("\",\"", ",", "\"", "\"\n"))),
        ),
        (
            "thousands",
            text("x;y\n0;0,5\n12,5;0,25\n12,75;-8,125\n1.234,5;20\n3;4\n".into()),
        ),
        (
            "a minus sign of print",
            text(format!("x,y\n{}", rows(",", ".", "", "\n")).replace('-', "\u{2212}")),
        ),
        (
            "percent comments",
            text(format!(
                "% a logger\n// another\nx,y\n{}",
                rows(",", ".", "", "\n")
            )),
        ),
        (
            "other columns",
            text(format!(
                "Time_ms,pos X (mm),pos Y (mm),force\n{}",
                rows(",", ".", "17,", ",0.3\n")
            )),
        ),
        (
            "columns swapped",
            text("y,x\n0.5,0\n0.25,12.5\n-8.125,12.75\n20,1234.5\n4,3\n".into()),
        ),
        (
            "µm",
            text("X/µm;Y/µm\n0;500\n12500;250\n12750;-8125\n1234500;20000\n3000;4000\n".into()),
        ),
        (
            "a header in a comment",
            text(
                "# made by a logger\n# y x\n0.5 0\n0.25 12.5\n-8.125 12.75\n20 1234.5\n4 3\n"
                    .into(),
            ),
        ),
        (
            "a header with units in a comment",
            text(format!("# x [in], y [in]\n{}", inches(".", ","))),
        ),
        (
            "the unit in a title",
            text(format!("Einheit: Zoll\nX;Y\n{}", inches(",", ";"))),
        ),
        (
            "the unit in a comment of other words",
            text(format!("# Unit = inch\nx,y\n{}", inches(".", ","))),
        ),
        (
            "a column of units",
            text(format!("x;y;unit\n{}", rows(";", ".", "", ";mm\n"))),
        ),
        (
            "a header of several words each",
            text(format!(
                "Temps (s);Coordonn\u{e9}e X (mm);Coordonn\u{e9}e Y (mm)\n{}",
                rows(";", ",", "0;", "\n")
            )),
        ),
        (
            "an end of file of old",
            text(format!("x,y\n{}\x1a", rows(",", ".", "", "\n"))),
        ),
    ];
    assert!(dialects.len() >= 30);
    for (name, bytes) in dialects {
        let (trace, notes) = read_as(&bytes, &wanted()).unwrap_or_else(|e| panic!("{name}: {e}"));
        let got = points(&trace);
        let near =
            |(p, (x, y)): (&Point, &(f64, f64))| (p.x - x).abs() < 1e-6 && (p.y - y).abs() < 1e-6;
        assert!(
            got.len() == POINTS.len() && got.iter().zip(&POINTS).all(near),
            "{name}: {got:?} {notes:?}"
        );
    }
}

#[test]
fn two_meanings_are_asked_about_and_a_flag_settles_it() {
    let point = Wanted {
        decimal: Some(Decimal::Point),
        ..wanted()
    };
    let comma = Wanted {
        decimal: Some(Decimal::Comma),
        ..wanted()
    };
    let columns = |names: &str| Wanted {
        columns: names.split(',').map(str::to_owned).collect(),
        ..wanted()
    };
    let cases = [
        (
            "x;y\n12,345;67,890\n10,000;20,500\n3,125;4,875\n",
            "--decimal",
            point.clone(),
            (12345.0, 67890.0),
        ),
        (
            "x;y\n12,345;67,890\n10,000;20,500\n3,125;4,875\n",
            "--decimal",
            comma.clone(),
            (12.345, 67.89),
        ),
        (
            "x,y\n12,5,20,3\n13,5,21,3\n14,0,22,5\n",
            "--decimal",
            comma,
            (12.5, 20.3),
        ),
        (
            "0,5.5,7\n1,6,9\n2,8,11\n3,1,2\n",
            "--columns",
            columns("-,x,y"),
            (5.5, 7.0),
        ),
        (
            "0,5.5,7\n0,6,9\n1,8,11\n1,1,2\n",
            "--columns",
            columns("stroke,x,y"),
            (5.5, 7.0),
        ),
        (
            "5,5.5,7\n1,6,9\n2,8,11\n3,1,2\n",
            "",
            columns("x,y,-"),
            (5.0, 5.5),
        ),
        (
            "1,2,3,4\n5,6,7,8\n2,3,4,4\n",
            "--columns",
            columns("-,y,x,-"),
            (3.0, 2.0),
        ),
        (
            "lon,lat\n5,6\n7,8\n9,9\n",
            "--columns",
            columns("x,y"),
            (5.0, 6.0),
        ),
    ];
    for (text, asked, said, (x, y)) in cases {
        let refused = read_as(text.as_bytes(), &wanted()).map(|_| ());
        match (asked, refused) {
            ("", Ok(())) => {}
            (flag, Err(e)) => assert!(e.contains(flag) && !flag.is_empty(), "{text}: {e}"),
            other => panic!("{text}: {other:?}"),
        }
        let (trace, _) = read_as(text.as_bytes(), &said).unwrap_or_else(|e| panic!("{text}: {e}"));
        let first = points(&trace).first().copied().expect("points");
        assert_eq!((first.x, first.y), (x, y), "{text}");
    }
}

#[test]
fn what_is_no_trace_is_refused_with_its_line() {
    for (text, sentence) in [
        ("x;y\n1,5;2,5\n1,5;two\n", "line 3: \"two\" is not a number"),
        (
            "x y\n1 2\n1\n",
            "line 3: the row has 1 columns where the header has 2",
        ),
        ("a trace of Monday\n", "line 1: no row is a point"),
        ("x [mm],y [in]\n1,2\n", "two different units"),
        ("# units: in\nx [mm],y [mm]\n1,2\n", "two different units"),
        ("x,x,y\n1,2,3\n", "names the column x twice"),
        ("Unit: inch\nx [mm],y [mm]\n1,2\n", "two different units"),
        ("x,y,unit\n1,2,mm\n3,4,in\n", "two different units"),
    ] {
        let said = read_as(text.as_bytes(), &wanted()).map(|_| ());
        assert!(
            said.as_ref().is_err_and(|e| e.contains(sentence)),
            "{text}: {said:?}"
        );
    }
}

#[test]
fn times_in_other_units_and_dates_do_no_harm() {
    let (trace, _) = read_as(b"time_ms,x,y\n0,1,2\n500,3,4\n", &wanted()).expect("a trace");
    assert_eq!(trace.strokes[0].times, [0.0, 0.5]);
    let (trace, _) = read_as(
        b"timestamp,x,y\n2025-01-01 10:00,1,2\n2025-01-01 10:01,3,4\n",
        &wanted(),
    )
    .expect("a trace");
    assert_eq!(
        (trace.strokes[0].times.len(), trace.strokes[0].points.len()),
        (0, 2)
    );
}

/// With three decimals a comma may part thousands too; a place that no trace may have settles it.
#[test]
fn what_lies_beyond_all_limits_is_no_meaning() {
    let text = "x;y\n139,749;92,002\n139,747;90,298\n138,001;89,117\n";
    let (trace, _) = read_as(text.as_bytes(), &wanted()).expect("a trace");
    assert_eq!(trace.strokes[0].points[0], Point::new(139.749, 92.002));
    let unclear = "x;y\n39,749;92,002\n39,747;90,298\n38,001;89,117\n";
    assert!(read_as(unclear.as_bytes(), &wanted()).is_err());
}
