//! The pictures that stand in documents are as they would be drawn now, and every document's pictures are
//! there.

#[path = "../examples/make_pictures.rs"]
#[allow(dead_code)]
mod make_pictures;

use std::fs;
use std::path::Path;

#[test]
fn pictures_of_the_documents_are_current() {
    let stale = make_pictures::pictures(true).unwrap();
    assert!(
        stale.is_empty(),
        "not as they would be drawn now: {stale:?}\nTo do: cargo run --release --example make_pictures, \
         and look at them"
    );
}

#[test]
fn every_picture_of_a_document_is_there_and_has_words() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut documents = vec![root.join("README.md")];
    let docs = fs::read_dir(root.join("docs")).unwrap();
    documents.extend(
        docs.map(|e| e.unwrap().path())
            .filter(|p| p.extension().is_some_and(|e| e == "md")),
    );
    let mut used = Vec::new();
    for document in documents {
        let text = fs::read_to_string(&document).unwrap();
        for part in text.split("![").skip(1) {
            let (words, rest) = part.split_once("](").unwrap();
            let (target, _) = rest.split_once(')').unwrap();
            assert!(words.len() > 15, "{}: {words}", document.display());
            let path = document.parent().unwrap().join(target);
            assert!(path.is_file(), "{}: {target}", document.display());
            used.push(path.file_name().unwrap().to_owned());
        }
    }
    for entry in fs::read_dir(root.join("docs/pictures")).unwrap() {
        let name = entry.unwrap().file_name();
        assert!(used.contains(&name), "{name:?} stands in no document");
    }
}
