//! `trued photo`: a picture in, a trace in mm out; and the target to print.

use super::lengths::{self, Length};
use super::{Finish, Stop, io, table};
use clap::ValueEnum;
use image::{ExtendedColorType, ImageEncoder, codecs::png::PngEncoder};
use indicatif::ProgressBar;
use std::path::{Path, PathBuf};
use trued::format::template::Paper;
use trued::format::{Content, Input, Units, csv};
use trued::photo::{Ask, Photo, Scale, TARGET, Wanted, decode, read, target};
use trued::{Point, Refusal};

/// Take a marker line, or a part itself, from a photo
///
/// Writes the line as a trace in mm, to be read like any other. Something of known size in the picture
/// tells the scale: four like marks at the corners of a rectangle, a sheet of paper, or the target that
/// --target prints. All of it must lie in the plane of the line.
#[derive(clap::Args)]
#[command(after_help = EXAMPLES, arg_required_else_help = true)]
pub struct Args {
    /// The picture: JPEG, PNG or WebP
    #[arg(value_name = "PICTURE", required_unless_present = "target")]
    picture: Option<String>,
    /// Write the trace here (.csv)
    #[arg(short, long, value_name = "FILE", required_unless_present = "flat")]
    output: Option<PathBuf>,
    /// Also write the plate as it looks straight from above (.png), to compare
    #[arg(long, value_name = "FILE")]
    flat: Option<PathBuf>,
    /// Write the target to print here with -o (.svg) instead of reading a picture
    #[arg(long, value_enum, value_name = "PAPER", conflicts_with_all = ["picture", "flat"])]
    target: Option<PaperFlag>,
    /// Say nothing but errors
    #[arg(short, long)]
    quiet: bool,
    #[command(flatten)]
    flags: PhotoFlags,
}

const EXAMPLES: &str = "\
Examples:
  trued photo --target a4 -o target.svg                   print it, check its lengths
  trued photo collar.jpg --frame 300x200 -o collar.csv    four marks at the corners of 300 x 200 mm
  trued photo sheet.jpg --frame a4 -o gusset.csv          a line on, or a part on, a sheet
  trued photo blank.jpg --frame target --part --thickness 3 -o blank.csv
  trued outline collar.jpg --frame 300x200 --look collar.html -o collar.json";

/// Paper that the target is printed on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum PaperFlag {
    /// 210 x 297 mm
    A4,
    /// 215.9 x 279.4 mm
    Letter,
}

/// Which line of the ink.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum LineFlag {
    /// Its middle
    #[default]
    Middle,
    /// Its edge towards the material
    Inside,
    /// Its edge away from the material
    Outside,
}

/// Flags of every command that takes a picture.
#[derive(clap::Args, Clone, Debug, Default)]
#[command(next_help_heading = "How a picture is read")]
pub struct PhotoFlags {
    /// What tells the scale: WxH of four marks (W along the side nearer to the picture's horizontal), a4,
    /// letter, or target (target:WxH where it measures otherwise than printed on it)
    #[arg(long, value_name = "WHAT", value_parser = frame)]
    frame: Option<Frame>,
    /// The picture was taken straight from above and shows this much across; nothing tells the scale
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse, conflicts_with = "frame")]
    across: Option<Length>,
    /// The frame's four corners in the picture, pixels from its upper left, where they are not found
    #[arg(long, value_name = "X,Y X,Y X,Y X,Y", value_parser = corners)]
    corners: Option<Corners>,
    /// Which line of the ink is wanted
    #[arg(long, value_enum, default_value_t, value_name = "WHICH")]
    line: LineFlag,
    /// The part itself lies there: take its silhouette and holes
    #[arg(long)]
    part: bool,
    /// Thickness of the part: what is seen of its upper edge is brought down to the plate
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse_thickness, requires = "part")]
    thickness: Option<Length>,
    /// Height of the camera over the plate, where it is known
    #[arg(long, value_name = "LENGTH", value_parser = lengths::parse, requires = "part")]
    height: Option<Length>,
}

/// What tells the scale, as typed.
#[derive(Clone, Copy, Debug)]
enum Frame {
    Marks(lengths::Pair),
    Sheet(Paper),
    Target(Option<lengths::Pair>),
}

fn frame(text: &str) -> Result<Frame, String> {
    let pair = |t: &str| {
        lengths::parse_pair(t).map_err(|_| {
            format!("\"{text}\" is no frame; write for example 300x200, a4, letter or target")
        })
    };
    match text.to_ascii_lowercase().as_str() {
        "a4" => Ok(Frame::Sheet(Paper::A4)),
        "letter" => Ok(Frame::Sheet(Paper::Letter)),
        "target" => Ok(Frame::Target(None)),
        t => match t.strip_prefix("target:") {
            Some(measured) => Ok(Frame::Target(Some(pair(measured)?))),
            None => Ok(Frame::Marks(pair(t)?)),
        },
    }
}

/// Four places in a picture.
#[derive(Clone, Copy, Debug)]
struct Corners([Point; 4]);

fn corners(text: &str) -> Result<Corners, String> {
    let figures: Option<Vec<f64>> = text
        .split([',', ' '])
        .filter(|t| !t.is_empty())
        .map(|t| t.parse().ok().filter(|v: &f64| v.is_finite()))
        .collect();
    match figures.as_deref() {
        Some([a, b, c, d, e, f, g, h]) => {
            let places = [(a, b), (c, d), (e, f), (g, h)];
            Ok(Corners(places.map(|(x, y)| Point::new(*x, *y))))
        }
        _ => Err(format!(
            "\"{text}\" are no four places; write for example \"400,2700 3600,2600 3500,500 450,450\""
        )),
    }
}

impl PhotoFlags {
    /// Whether anything was said of pictures.
    pub fn ask(&self, units: Units) -> Option<Ask> {
        let scale = match (self.frame, self.across) {
            (Some(Frame::Marks(pair)), _) => {
                let (w, h) = pair.in_mm(units);
                Scale::Frame(w, h)
            }
            (Some(Frame::Sheet(paper)), _) => Scale::Sheet(paper),
            (Some(Frame::Target(pair)), _) => {
                let (w, h) = pair.map_or(TARGET, |p| p.in_mm(units));
                Scale::Target(w, h)
            }
            (None, Some(across)) => Scale::Across(across.in_mm(units)),
            (None, None) => return None,
        };
        Some(Ask {
            corners: self.corners.map(|c| c.0),
            line: match self.line {
                LineFlag::Middle => Wanted::Middle,
                LineFlag::Inside => Wanted::Inside,
                LineFlag::Outside => Wanted::Outside,
            },
            part: self.part,
            thickness: self.thickness.map_or(0.0, |t| t.in_mm(units)),
            camera: self.height.map(|h| h.in_mm(units)),
            ..Ask::of(scale)
        })
    }
}

/// What a picture lacks that was given without saying what tells its scale.
const NO_SCALE: &str = "this is a picture: say what tells its scale, for example --frame 300x200 (four marks), --frame a4 or --frame target";

/// A picture as the content of a file; `ask` is what the command's flags say, where it takes pictures.
pub fn input(bytes: &[u8], ask: Option<Option<&Ask>>) -> Result<Input, Refusal> {
    let ask = ask.ok_or_else(|| {
        Refusal::File("this is a picture: make its outline first (trued outline PICTURE --frame 300x200 --look part.html -o part.json), look at it, and give that".into())
    })?;
    let ask = ask.ok_or_else(|| Refusal::File(NO_SCALE.into()))?;
    let photo = read(&decode::decode(bytes)?, ask, &mut |_| true)?;
    Ok(Input {
        notes: photo.notes,
        doubts: photo.doubts,
        units: Some(Units::Mm),
        ..Input::of(Content::Trace(photo.trace))
    })
}

/// Runs the command.
pub fn run(args: &Args) -> Result<Finish, Stop> {
    let written: Vec<&Path> = args
        .output
        .iter()
        .chain(&args.flat)
        .map(PathBuf::as_path)
        .collect();
    for file in &written {
        io::check_file(file)?;
    }
    io::check_apart(args.picture.as_deref(), &written)?;
    if let (Some(paper), Some(output)) = (args.target, &args.output) {
        let paper = match paper {
            PaperFlag::A4 => Paper::A4,
            PaperFlag::Letter => Paper::Letter,
        };
        ends_with(output, "svg", "the target")?;
        io::replace_file(output, target(paper).as_bytes()).map_err(Stop::Failed)?;
        if !args.quiet {
            eprintln!(
                "{}: print it at 100 % and measure {} x {} mm from disc to disc",
                output.display(),
                TARGET.0,
                TARGET.1
            );
        }
        return Ok(Finish::Done);
    }
    let name = args.picture.as_deref().unwrap_or(io::STDIN);
    let ask = args
        .flags
        .ask(Units::Mm)
        .ok_or_else(|| Stop::Usage(NO_SCALE.into()))?;
    if let Some(output) = &args.output {
        ends_with(output, "csv", "a trace")?;
    }
    if let Some(flat) = &args.flat {
        ends_with(flat, "png", "the plate from above")?;
    }
    let photo = taken(name, &ask, args.quiet).map_err(Stop::Failed)?;
    if let Some(output) = &args.output {
        let said: Vec<&str> = photo.notes.iter().map(|n| n.text.as_str()).collect();
        let text = csv::write(&photo.trace, &said, &photo.doubts);
        io::replace_file(output, text.as_bytes()).map_err(Stop::Failed)?;
    }
    if let Some(flat) = &args.flat {
        io::replace_file(flat, &png(&photo)?).map_err(Stop::Failed)?;
    }
    if !args.quiet {
        say(name, &photo);
        table::cautions();
    }
    Ok(Finish::Done)
}

fn ends_with(path: &Path, ending: &str, what: &str) -> Result<(), Stop> {
    let said = path
        .extension()
        .and_then(|e| e.to_str())
        .unwrap_or_default();
    match said.eq_ignore_ascii_case(ending) {
        true => Ok(()),
        false => Err(Stop::Usage(format!(
            "{}: {what} is written to a file ending in .{ending}",
            path.display()
        ))),
    }
}

fn taken(name: &str, ask: &Ask, quiet: bool) -> Result<Photo, String> {
    let source = io::read_source(name)?;
    let bar = if quiet {
        ProgressBar::hidden()
    } else {
        ProgressBar::new(100)
    };
    let picture = decode::decode(&source.bytes);
    let photo = picture.and_then(|p| {
        read(&p, ask, &mut |done| {
            bar.set_position((100.0 * done) as u64);
            true
        })
    });
    bar.finish_and_clear();
    photo.map_err(|e| format!("{}: {e}", source.name))
}

fn png(photo: &Photo) -> Result<Vec<u8>, Stop> {
    let (w, h) = photo.flat.size();
    let mut bytes = Vec::new();
    PngEncoder::new(&mut bytes)
        .write_image(
            &photo.flat.rgba(),
            w as u32,
            h as u32,
            ExtendedColorType::Rgba8,
        )
        .map_err(|e| Stop::Failed(format!("the plate from above cannot be written: {e}")))?;
    Ok(bytes)
}

fn say(name: &str, photo: &Photo) {
    let (marks, lines): (Vec<_>, Vec<_>) = photo
        .trace
        .strokes
        .iter()
        .partition(|s| s.points.len() == 1);
    let width = match photo.width {
        0.0 => String::new(),
        w => format!(", {w:.1} mm wide"),
    };
    eprintln!(
        "{name}: {} line{}{width}, {} mark{}",
        lines.len(),
        if lines.len() == 1 { "" } else { "s" },
        marks.len(),
        if marks.len() == 1 { "" } else { "s" }
    );
    for note in &photo.notes {
        eprintln!("  {}", note.text);
    }
    for (i, doubt) in photo.doubts.iter().enumerate() {
        eprintln!("doubt {}: {}", i + 1, doubt.text);
    }
}
