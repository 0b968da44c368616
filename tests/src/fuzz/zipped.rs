//! Archives of notebooks whose checksums are right, whatever is in them.

use std::fmt::Write as _;
use std::io::{Cursor, Write};

use serde_json::json;
use sha2::{Digest, Sha256};
use zip::ZipWriter;
use zip::write::SimpleFileOptions;

/// What stands between names and contents.
pub(super) const BETWEEN: u8 = 0xff;

/// An archive of the files that the bytes name, name and content by turns. The
/// manifest fits them; where the first byte is a `!`, the first content is the
/// manifest instead. `None` where no archive can be written of them.
pub(super) fn around(bytes: &[u8]) -> Option<Vec<u8>> {
    let own = bytes.first() == Some(&b'!');
    let mut parts = bytes.get(usize::from(own)..)?.split(|&byte| byte == BETWEEN);
    let own = if own { Some(parts.next()?) } else { None };
    let mut files = Vec::new();
    while let (Some(name), Some(content)) = (parts.next(), parts.next()) {
        files.push((String::from_utf8_lossy(name).into_owned(), content));
    }
    let listed: Vec<_> = files
        .iter()
        .map(|(name, content)| json!({"name": name, "bytes": content.len(), "sha256": hex(content)}))
        .collect();
    let fitting = json!({"format": "eighths notebook", "form": 1, "program": "eighths", "files": listed});
    let manifest = own.map_or_else(|| fitting.to_string().into_bytes(), <[u8]>::to_vec);
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("manifest.json", SimpleFileOptions::default()).ok()?;
    zip.write_all(&manifest).ok()?;
    for (name, content) in files {
        zip.start_file(name, SimpleFileOptions::default()).ok()?;
        zip.write_all(content).ok()?;
    }
    Some(zip.finish().ok()?.into_inner())
}

fn hex(content: &[u8]) -> String {
    Sha256::digest(content).iter().fold(String::new(), |mut text, byte| {
        let _ = write!(text, "{byte:02x}");
        text
    })
}
