//! Where a CSV file's strokes begin and end, as loggers, plotters and spreadsheets write it; and units and times in
//! their many ways. Read rightly, or asked about.

use trued::format::{Content, Input, Units, Wanted, read};
use trued::{Point, Trace};

/// Two strokes, mm.
const FIRST: [(f64, f64); 3] = [(0.0, 0.0), (50.0, 0.0), (100.0, -30.0)];
const SECOND: [(f64, f64); 3] = [(200.0, 50.0), (250.0, 50.0), (250.0, 90.5)];

fn read_as(text: &str, columns: &str) -> Result<(Trace, Input), String> {
    let names = columns.split(',').filter(|c| !c.is_empty());
    let wanted = Wanted {
        columns: names.map(str::to_owned).collect(),
        ..Wanted::from(Units::Mm)
    };
    match read("a.csv", text.as_bytes(), wanted) {
        Ok(input) => match &input.content {
            Content::Trace(trace) => Ok((trace.clone(), input)),
            other => panic!("{other:?}"),
        },
        Err(refusal) => Err(refusal.to_string()),
    }
}

fn is(points: &[Point], want: &[(f64, f64)]) -> bool {
    let near = |(p, (x, y)): (&Point, &(f64, f64))| p.distance(Point::new(*x, *y)) < 1e-9;
    points.len() == want.len() && points.iter().zip(want).all(near)
}

/// Each row as `first` or `second` makes it of place and number, with what stands between the strokes.
fn two(
    header: &str,
    first: impl Fn(f64, f64, usize) -> String,
    between: &str,
    second: impl Fn(f64, f64, usize) -> String,
) -> String {
    let rows = |f: &dyn Fn(f64, f64, usize) -> String, all: &[(f64, f64)]| -> String {
        let row = |(i, (x, y)): (usize, &(f64, f64))| f(*x, *y, i) + "\n";
        all.iter().enumerate().map(row).collect()
    };
    format!(
        "{header}\n{}{between}{}",
        rows(&first, &FIRST),
        rows(&second, &SECOND)
    )
}

/// With one more field, the same for a whole stroke.
fn with(header: &str, first: &str, between: &str, second: &str) -> String {
    two(
        header,
        |x, y, _| format!("{x},{y},{first}"),
        between,
        |x, y, _| format!("{x},{y},{second}"),
    )
}

#[test]
fn strokes_are_told_apart_however_it_is_written() {
    let hover = "120,40,0\n150,45,0\n180,50,0\n";
    let moves = |x: f64, y: f64, i: usize| format!("{x},{y},{}", usize::from(i > 0));
    let plain = |x: f64, y: f64, _: usize| format!("{x},{y}");
    for text in [
        with("x,y,path_id", "a", "", "b"),
        with("x,y,Polyline", "1", "", "2"),
        with("x,y,contour no", "1", "", "2"),
        with("x,y,Zug", "1", "", "2"),
        with("x,y,pen", "1", hover, "1"),
        with("x,y,is_down", "true", "9,9,false\n8,8,false\n", "true"),
        with("x,y,pen up", "0", "9,9,1\n8,8,1\n", "0"),
        with("x,y,pressure", "513", hover, "207.5"),
        with("x,y,Stift", "ab", "9,9,auf\n,,auf\n", "ab"),
        two("x,y,pen", moves, "", moves),
        two("x,y", plain, "nan,NaN\n", plain),
        two("x,y", plain, ",\n", plain),
        with("x,y,n", "1", ",,4\n", "1"),
    ] {
        let (trace, input) = read_as(&text, "").unwrap_or_else(|e| panic!("{text}: {e}"));
        let strokes: Vec<&[Point]> = trace.strokes.iter().map(|s| s.points.as_slice()).collect();
        let [a, b] = strokes.as_slice() else {
            panic!("{text}: {strokes:?}")
        };
        assert!(is(a, &FIRST) && is(b, &SECOND), "{text}: {strokes:?}");
        assert!(input.doubts.is_empty(), "{text}: {:?}", input.doubts);
    }
    let named = with("a,b,c", "1", hover, "1");
    let (trace, _) = read_as(&named, "x,y,pen").expect("a trace");
    assert_eq!(trace.strokes.len(), 2);
}

#[test]
fn what_may_part_the_points_is_asked_about() {
    for name in ["segment", "id", "line", "pen", "Layer"] {
        let text = with(&format!("x,y,{name}"), "1", "", "2");
        let asked = read_as(&text, "").map(|_| ());
        assert!(
            asked
                .as_ref()
                .is_err_and(|e| e.contains("--columns x,y,stroke")),
            "{name}: {asked:?}"
        );
        for (columns, strokes) in [("x,y,stroke", 2), ("x,y,-", 1)] {
            let (trace, _) = read_as(&text, columns).expect("a trace");
            assert_eq!(trace.strokes.len(), strokes, "{name} {columns}");
        }
    }
    // What numbers the rows, or is the same in all of them, parts nothing.
    for name in ["segment", "line", "path", "pen"] {
        for numbers in [true, false] {
            let cell = |i: usize| if numbers { i + 1 } else { 1 };
            let text = two(
                &format!("x,y,{name}"),
                |x, y, i| format!("{x},{y},{}", cell(i)),
                "",
                |x, y, i| format!("{x},{y},{}", cell(i + FIRST.len())),
            );
            let (trace, _) = read_as(&text, "").unwrap_or_else(|e| panic!("{text}: {e}"));
            assert_eq!(trace.strokes.len(), 1, "{text}");
        }
    }
}

#[test]
fn a_pen_that_is_lifted_by_its_height_is_doubted() {
    let text = with("x,y,z", "0", "150,45,12\n", "0.4");
    let (_, input) = read_as(&text, "").expect("a trace");
    assert!(
        input
            .doubts
            .iter()
            .any(|d| d.text.contains("z rises by 12.0 mm")),
        "{:?}",
        input.doubts
    );
    let (_, input) = read_as(&with("x,y,z", "0", "", "0.4"), "").expect("a trace");
    assert!(input.doubts.is_empty());
}

#[test]
fn units_stand_in_cells_and_in_words() {
    let inches = |header: &str, unit: &str| {
        let row =
            |x: f64, y: f64, _: usize| format!("{:.12}{unit},{:.12}{unit}", x / 25.4, y / 25.4);
        two(header, row, "\n", row)
    };
    for text in [
        inches("x,y", " in"),
        inches("x,y", "in"),
        inches("All dimensions in inches\nx,y", ""),
        inches("# Unit of length: inch\nx,y", ""),
        inches("X-Coordinate (in.),Y-Coordinate (in.)", ""),
    ] {
        let (trace, input) = read_as(&text, "").unwrap_or_else(|e| panic!("{text}: {e}"));
        assert!(is(&trace.strokes[0].points, &FIRST), "{text}");
        assert_eq!(input.units, Some(Units::Inch), "{text}");
    }
    let mixed = read_as("x,y\n1 mm,2 mm\n3 in,4 in\n", "").map(|_| ());
    assert!(mixed.is_err_and(|e| e.contains("line 3") && e.contains("another unit")));
}

#[test]
fn a_clock_tells_the_time() {
    for header in ["t", "time"] {
        let text = format!("{header},x,y\n10:59:59.5,1,2\n11:00:01,3,4\n");
        let (trace, _) = read_as(&text, "").expect("a trace");
        let times = &trace.strokes[0].times;
        assert!(
            times.len() == 2 && (times[1] - times[0] - 1.5).abs() < 1e-9,
            "{times:?}"
        );
    }
}
