//! Files that are made to break what opens them: each is answered with a
//! sentence, and takes nothing else with it.

use std::time::{Duration, Instant};

use tests::pictures::{card_with_a_panel, encoded};
use tests::program::Service;

use crate::check_problem;

/// A PDF of these objects (ISO 32000-1, 7.5).
fn pdf(objects: &[String]) -> Vec<u8> {
    use std::fmt::Write;
    let mut file = "%PDF-1.5\n".to_owned();
    let mut places = Vec::new();
    for (index, object) in objects.iter().enumerate() {
        places.push(file.len());
        let _ = write!(file, "{} 0 obj\n{object}\nendobj\n", index + 1);
    }
    let table = file.len();
    let _ = write!(file, "xref\n0 {}\n0000000000 65535 f \n", objects.len() + 1);
    for place in places {
        let _ = writeln!(file, "{place:010} 00000 n ");
    }
    let _ =
        write!(file, "trailer\n<< /Size {} /Root 1 0 R >>\nstartxref\n{table}\n%%EOF\n", objects.len() + 1);
    file.into_bytes()
}

/// A page that paints a form ten times, which paints another ten times, and so
/// on: three kilobytes that ask for a million million strokes.
fn never_ending() -> Vec<u8> {
    const DEEP: usize = 12;
    let ten = "/X Do ".repeat(10);
    let stream =
        |head: String, body: &str| format!("<< {head} /Length {} >>\nstream\n{body}\nendstream", body.len());
    let paints = |next: usize| format!("/Resources << /XObject << /X {next} 0 R >> >>");
    let mut objects = vec![
        "<< /Type /Catalog /Pages 2 0 R >>".to_owned(),
        "<< /Type /Pages /Kids [3 0 R] /Count 1 >>".to_owned(),
        format!("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 612 792] /Contents 4 0 R {} >>", paints(5)),
        stream(String::new(), &ten),
    ];
    let form = "/Type /XObject /Subtype /Form /BBox [0 0 612 792]";
    for level in 1..=DEEP {
        objects.push(if level < DEEP {
            stream(format!("{form} {}", paints(5 + level)), &ten)
        } else {
            stream(form.to_owned(), "0 0 600 700 re f ")
        });
    }
    pdf(&objects)
}

#[test]
fn a_file_that_never_ends_is_given_up_while_others_are_served() {
    let folder = tempfile::tempdir().unwrap();
    let service = Service::start(folder.path(), &["--workers", "2"]);
    let bomb = never_ending();
    let begun = Instant::now();
    std::thread::scope(|scope| {
        let stuck = scope.spawn(|| service.photo(&bomb, &[("card", "A2")]));
        // Somebody else's photo is read meanwhile.
        std::thread::sleep(Duration::from_millis(300));
        let photo = encoded(&card_with_a_panel(), image::ImageFormat::Png);
        let other = service.photo(&photo, &[("card", "A2")]);
        assert_eq!(other.status, 201, "{}", other.json());
        assert!(begun.elapsed() < Duration::from_secs(30), "it waited for the other");
        let stuck = stuck.join().unwrap();
        check_problem("a page that never ends", &stuck, 422, "takes too long and was given up");
    });
}
