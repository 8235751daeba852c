//! A person's library with mistakes in it, from outside.

use crate::support::{Tool, jpeg, png, slope};

#[test]
fn mistakes_are_messages_and_the_rest_is_used() {
    Tool::new()
        .file("library/hollin/fern-ring/a.png", png(&slope(1)))
        .file(
            "library/hollin/fern-ring/mark.toml",
            "name = \"Fern\"\nusde = \"1931\"\n",
        )
        .photo("a.jpg", jpeg(&slope(2)))
        .matching(["sale"])
        .stderr(
            "warning: library/hollin/fern-ring/mark.toml, line 2, key `usde`: is not known here: \
             the nearest known key is `used`",
        )
        .exit(0);
    Tool::new()
        .mark("hollin/fern-ring", &slope(1))
        .file("library/quill/two/mark.toml", "name = Two\n")
        .photo("a.jpg", jpeg(&slope(2)))
        .matching(["sale"])
        .stderr("error: library/quill/two/mark.toml, line 1, key `name`: not TOML")
        .exit(1);
}

#[test]
fn a_cut_exemplar_is_told_and_counts_as_unread() {
    let whole = jpeg(&slope(3));
    Tool::new()
        .mark("hollin/fern-ring", &slope(1))
        .file(
            "library/hollin/fern-ring/cut.jpg",
            &whole[..whole.len() / 2],
        )
        .photo("a.jpg", jpeg(&slope(2)))
        .matching(["sale"])
        .stderr("error: library/hollin/fern-ring/cut.jpg: not used as exemplar: the file ends")
        .exit(1);
}

#[test]
fn a_picture_in_a_folder_is_enough_for_a_family() {
    let ran = Tool::new()
        .file("library/hollin/fern-ring/a.png", png(&slope(1)))
        .photo("a.jpg", jpeg(&slope(2)))
        .matching(["sale"])
        .exit(0);
    assert_eq!(ran.stderr, "");
}
