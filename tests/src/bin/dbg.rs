use trued::format::{self, Content, Units};
use trued::reading::{self, Course};
use trued::{Settings, trace::clean};
fn main() {
    let f = std::env::args().nth(1).unwrap();
    let b = std::fs::read(&f).unwrap();
    let Content::Trace(t) = format::read(&f, &b, Units::Mm).unwrap().content else {
        panic!()
    };
    let c = clean(&t, &Settings::default()).unwrap();
    let (r, hand) = reading::read_clean(&c.paths[0], &Settings::default());
    println!("hand {hand:?}");
    for x in r.iter().take(26) {
        let g = match &x.course {
            Course::Chain(s) => (0..s.figure.len())
                .map(|e| {
                    format!(
                        "{:.0}{}",
                        s.figure.edge_length(e),
                        if s.figure.bulges[e] != 0.0 {
                            format!("r{:.1}", s.figure.radius(e))
                        } else {
                            String::new()
                        }
                    )
                })
                .collect::<Vec<_>>()
                .join(" "),
            _ => "circle".into(),
        };
        println!(
            "{:8.2} {} mis {:.1} slow {:.2} gain {:.1} occ {:.1} conds {} : {g}",
            x.price,
            reading::kinds(x),
            x.measures[0],
            x.measures[22],
            x.measures[5],
            x.measures[3],
            x.conditions.len()
        );
    }
}
