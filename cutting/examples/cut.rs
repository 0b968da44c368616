//! Plans one instance file at the command line:
//! `cut [cut] --instance FILE [--time SECONDS] [--rounds N] [--json]`.

use std::io::Write;
use std::time::{Duration, Instant};

use cutting::{Options, instance};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let begin = Instant::now();
    let mut options = Options::default();
    let (mut file, mut time, mut rounds, mut json) = (None, None, None, false);
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        let mut value = || words.next().ok_or(format!("{word} needs a value"));
        match word.as_str() {
            "cut" => {}
            "--instance" => file = Some(value()?),
            "--time" => time = Some(Duration::try_from_secs_f64(value()?.parse()?)?),
            "--rounds" => rounds = Some(value()?.parse()?),
            "--json" => json = true,
            _ => return Err(format!("unknown word {word}").into()),
        }
    }
    options.rounds = rounds.unwrap_or(if time.is_some() { u64::MAX } else { options.rounds });
    let text = std::fs::read_to_string(file.ok_or("--instance FILE is missing")?)?;
    let instance = instance::read(&text)?;
    let plan = cutting::plan(&instance.job, &options, &mut |_| time.is_none_or(|t| begin.elapsed() < t))?;
    let answer = instance::answer(&instance, &plan);
    let mut out = std::io::stdout().lock();
    if json {
        writeln!(out, "{}", serde_json::to_string(&answer)?)?;
    } else {
        let (settings, cuts) = (answer.settings.len(), answer.cuts);
        writeln!(out, "score {}, bound {}, {settings} settings, {cuts} cuts", answer.score, answer.bound)?;
    }
    Ok(())
}
