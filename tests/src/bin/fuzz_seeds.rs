//! Writes the seeds of the fuzz targets: a folder for each.

use std::path::Path;
use std::process::ExitCode;
use std::{env, fs, io};

use tests::fuzz::{TARGETS, seeds};

fn main() -> ExitCode {
    let Some(to) = env::args_os().nth(1) else {
        eprintln!("fuzz-seeds FOLDER [CORPORA]: say where the seeds go");
        return ExitCode::from(2);
    };
    let corpora = env::args_os().nth(2);
    match write(Path::new(&to), corpora.as_deref().map(Path::new)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("the seeds cannot be written ({error}): give a folder that can be");
            ExitCode::FAILURE
        }
    }
}

fn write(to: &Path, corpora: Option<&Path>) -> io::Result<()> {
    for target in &TARGETS {
        let folder = to.join(target.name);
        fs::create_dir_all(&folder)?;
        for (number, bytes) in seeds(target.name, corpora).iter().enumerate() {
            fs::write(folder.join(format!("seed-{number:03}")), bytes)?;
        }
    }
    Ok(())
}
