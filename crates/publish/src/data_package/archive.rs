//! The files of a package as one ZIP archive, to be carried in one piece.

use std::io::{Cursor, Write};

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipWriter};

use crate::error::PublishError;

/// Packs files, in their order. The same files give the same bytes: no clock is read.
///
/// # Errors
/// [`PublishError::Descriptor`] for a path that the format cannot hold.
pub fn archive(files: &[(String, Vec<u8>)]) -> Result<Vec<u8>, PublishError> {
    let options = SimpleFileOptions::default()
        .compression_method(CompressionMethod::Deflated)
        .last_modified_time(DateTime::default())
        .unix_permissions(0o644);
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (path, bytes) in files {
        writer.start_file(path.as_str(), options).map_err(|error| refused(path, &error))?;
        writer.write_all(bytes).expect("writing to memory does not fail");
    }
    let done = writer.finish().map_err(|error| refused("archive", &error))?;
    Ok(done.into_inner())
}

fn refused(path: &str, error: &zip::result::ZipError) -> PublishError {
    PublishError::Descriptor { what: format!("`{path}` cannot be packed: {error}") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Read;

    #[test]
    fn files_come_back_and_bytes_do_not_change() {
        let files = vec![("a.json".to_owned(), b"{}".to_vec()), ("data/b.csv".to_owned(), b"x,y\r\n".to_vec())];
        let packed = archive(&files).expect("packed");
        assert_eq!(packed, archive(&files).expect("packed again"));
        let mut read = zip::ZipArchive::new(Cursor::new(packed)).expect("an archive");
        for (path, bytes) in files {
            let mut found = Vec::new();
            read.by_name(&path).expect("the file").read_to_end(&mut found).expect("its bytes");
            assert_eq!(found, bytes);
        }
    }
}
