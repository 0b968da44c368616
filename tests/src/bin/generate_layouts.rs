//! Writes card-layout pictures with their exact answers.

use std::path::PathBuf;
use std::process::ExitCode;

use tests::generate::{Order, Profile, picture};

const USAGE: &str = "generate-layouts --out DIR --count N --seed S [--profile NAME]

Writes DIR/001.jpg (or .png) and DIR/001.json, and so on.
Without --profile the profiles take turns.

  --first N            number of the first picture (1)
  --card NAME          A2, 5x7, square, A6 or slimline
  --lying yes|no       the card lies or stands
  --ruling NAME        plain, ruled, grid or dotted
  --layouts N          layouts on the page, 1 to 9
  --exif N             orientation flag 1, 3, 6 or 8
  --long-side PX       pixels of the picture's longer side
  --jpeg-quality N     20 to 95
  --easy               few shapes, a careful hand, kind light";

fn main() -> ExitCode {
    match run(std::env::args().skip(1)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => {
            eprintln!("{message}\n\n{USAGE}");
            ExitCode::from(2)
        }
    }
}

fn run(mut words: impl Iterator<Item = String>) -> Result<(), String> {
    let (mut out, mut count, mut first, mut profile) = (None, 1_u64, 1_u64, None);
    let mut order = Order::new(Profile::PrintScan, 1, 1);
    while let Some(word) = words.next() {
        if word == "--easy" {
            order.easy = true;
            continue;
        }
        let value = words.next().ok_or_else(|| format!("{word} needs a value"))?;
        let number =
            || value.parse::<u64>().map_err(|_| format!("{word} takes a whole number, not \"{value}\""));
        let small =
            || value.parse::<usize>().map_err(|_| format!("{word} takes a whole number, not \"{value}\""));
        match word.as_str() {
            "--out" => out = Some(PathBuf::from(&value)),
            "--count" => count = number()?,
            "--seed" => order.seed = number()?,
            "--first" => first = number()?,
            "--profile" => profile = Some(value.parse::<Profile>().map_err(|error| error.to_string())?),
            "--card" => order.card = Some(value),
            "--lying" => {
                order.lying = Some(match value.as_str() {
                    "yes" => true,
                    "no" => false,
                    _ => return Err("--lying takes yes or no".to_owned()),
                });
            }
            "--ruling" => order.ruling = Some(value),
            "--layouts" => order.layouts = Some(small()?),
            "--exif" => order.exif = Some(value.parse().map_err(|_| "--exif takes 1, 3, 6 or 8".to_owned())?),
            "--jpeg-quality" => {
                order.jpeg_quality =
                    Some(value.parse().map_err(|_| "--jpeg-quality takes 20 to 95".to_owned())?);
            }
            "--long-side" => order.long_side = Some(small()?),
            _ => return Err(format!("no option is called {word}")),
        }
    }
    let out = out.ok_or("say where the pictures go: --out DIR")?;
    let order = order.checked().map_err(|error| error.to_string())?;
    std::fs::create_dir_all(&out).map_err(|error| format!("cannot make {}: {error}", out.display()))?;
    for number in first..first.saturating_add(count) {
        let turn = usize::try_from(number % Profile::ALL.len() as u64).unwrap_or(0);
        let profile = profile.unwrap_or(Profile::ALL[turn]);
        let made = picture(&Order { profile, number, ..order.clone() });
        let name = out.join(format!("{number:03}.{}", made.extension));
        let answer = serde_json::to_string(&made.truth).map_err(|error| error.to_string())?;
        std::fs::write(&name, &made.bytes)
            .and_then(|()| std::fs::write(name.with_extension("json"), answer + "\n"))
            .map_err(|error| format!("cannot write {}: {error}", name.display()))?;
    }
    Ok(())
}
