#![allow(clippy::unwrap_used)]

use std::fs;
use std::path::Path;

use image::{Rgb, RgbImage};
use tempfile::TempDir;

use super::*;

pub(super) struct Shelf(TempDir);

impl Shelf {
    pub(super) fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub(super) fn root(&self) -> &Path {
        self.0.path()
    }

    fn text(self, path: &str, text: &str) -> Self {
        let path = self.root().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, text).unwrap();
        self
    }

    pub(super) fn picture(self, path: &str, shade: u8) -> Self {
        let path = self.root().join(path);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        RgbImage::from_pixel(24, 16, Rgb([shade, 90, 40]))
            .save(path)
            .unwrap();
        self
    }

    fn load(&self) -> (Library, Vec<String>) {
        let (library, remarks) = load(self.root()).unwrap();
        let prefix = format!("{}/", self.root().display());
        let told = remarks
            .iter()
            .map(|r| r.to_string().replace(&prefix, ""))
            .collect();
        (library, told)
    }
}

fn id(text: &str) -> FamilyId {
    FamilyId::parse(text).unwrap()
}

#[test]
fn three_records_are_read_whole() {
    let shelf = Shelf::new()
        .text(
            "hollin/maker.toml",
            "names = [\"Hollin Vale Pottery\"]\nplants = [{ place = \"Upper Hollin\", years = \"1921/1938\" }]\n",
        )
        .text("hollin/lines/fernway.toml", "made = \"1928/1935\"\nforms = [\"cup\", \"bowl\"]\n")
        .text(
            "hollin/fern-ring/mark.toml",
            r#"
name = "Fern in a ring"
line = "fernway"
used = "193X"
ink = "green"
was = ["hollin/fern-circle"]
sources = "a shelf of cups"

[[image]]
file = "a.png"
quad = [[1, 2], [20, 2.5], [20, 14], [1, 14]]
source = "own photo"

[[image]]
file = "gold/b.png"
"#,
        )
        .picture("hollin/fern-ring/a.png", 1)
        .picture("hollin/fern-ring/gold/b.png", 2)
        .picture("hollin/fern-ring/unlisted.png", 3)
        .picture("unattributed/crown-over-bird/x.png", 4)
        .text("unattributed/crown-over-bird/mark.toml", "name = \"Crown over bird\"\n")
        .text("hollin/fern-ring/.hidden.toml", "nonsense");
    let (library, told) = shelf.load();
    assert_eq!(told, Vec::<String>::new());
    let maker = &library.makers["hollin"];
    assert_eq!(maker.record.names, ["Hollin Vale Pottery"]);
    assert_eq!(
        maker.record.plants[0].years.as_ref().unwrap().as_str(),
        "1921/1938"
    );
    let forms = maker.lines["fernway"].facts.forms.iter();
    assert_eq!(
        forms.map(|f| f.form.as_str()).collect::<Vec<_>>(),
        ["cup", "bowl"]
    );
    let family = library.find(&id("hollin/fern-circle")).unwrap();
    assert_eq!(
        (family.name.as_str(), family.id.as_str()),
        ("Fern in a ring", "hollin/fern-ring")
    );
    let seen: Vec<_> = family
        .exemplars
        .iter()
        .map(|e| {
            let name = e.path.strip_prefix(shelf.root()).unwrap();
            (
                name.to_str().unwrap(),
                e.variant.as_deref(),
                e.quad.is_some(),
            )
        })
        .collect();
    assert_eq!(
        seen,
        [
            ("hollin/fern-ring/a.png", None, true),
            ("hollin/fern-ring/gold/b.png", Some("gold"), false),
            ("hollin/fern-ring/unlisted.png", None, false),
        ]
    );
    assert!(library.find(&id("unattributed/crown-over-bird")).is_some());
    assert_eq!(library.families.len(), 2);
}

#[test]
fn mistakes_are_told_with_file_line_and_key_and_the_rest_loads() {
    let cases = [
        (
            "name = \"A\"\nusde = \"1931\"\n",
            "p/f/mark.toml, line 2, key `usde`: is not known here: the nearest known key is `used`",
        ),
        (
            "name = \"A\"\nink = 3\n",
            "p/f/mark.toml, line 2, key `ink`: must be a text in quotes, not empty: the key is left out",
        ),
        (
            "name = \"A\"\nused = \"thirties\"\n",
            "p/f/mark.toml, line 2, key `used`: `thirties` is no EDTF date: write a year (`1931`), \
             a decade (`193X`), a span (`1925/1932`) or an open one (`1925/..`)",
        ),
        (
            "ink = \"green\"\n",
            "p/f/mark.toml, line 1, key `name`: is missing: the folder's name is used",
        ),
        (
            "name = \"A\"\n[[image]]\nfile = \"none.png\"\n",
            "p/f/mark.toml, line 2, key `file`: there is no picture `none.png` in this folder",
        ),
        (
            "name = \"A\"\n[[image]]\nfile = \"../g/a.png\"\n",
            "p/f/mark.toml, line 2, key `file`: there is no picture `../g/a.png` in this folder",
        ),
        (
            "name = \"A\"\n\n[[image]]\nfile = \"a.png\"\nquad = [[0, 0], [9, 0], [9, 9]]\n",
            "p/f/mark.toml, line 5, key `quad`: must be four corners [[x, y], [x, y], [x, y], [x, y]] \
             around the mark, in pixels of the upright picture: the key is left out",
        ),
        (
            "name = \"A\"\nconfused_with = [\"p/nobody\"]\n",
            "p/f/mark.toml, key `confused_with`: there is no family `p/nobody`",
        ),
        (
            "name = \"A\"\n\n[[confused_with]]\ntell = \"a dot under the crown\"\n",
            "p/f/mark.toml, line 3, key `confused_with`: must be tables with the `family` it is \
             confused with, and the `tell`: the key is left out",
        ),
    ];
    for (text, remark) in cases {
        let shelf = Shelf::new()
            .text("p/f/mark.toml", text)
            .picture("p/f/a.png", 1)
            .text("p/g/mark.toml", "name = \"G\"\n");
        let (library, told) = shelf.load();
        assert_eq!(told, [remark], "{text}");
        assert_eq!(library.families.len(), 2, "{text}");
    }
}

#[test]
fn a_file_that_is_no_toml_names_its_line_and_key() {
    let shelf = Shelf::new()
        .text("p/f/mark.toml", "name = \"A\"\nink = green\n")
        .picture("p/f/a.png", 1)
        .text("p/g/mark.toml", "name = \"G\"\n");
    let (library, told) = shelf.load();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0].starts_with("p/f/mark.toml, line 2, key `ink`: not TOML ("),
        "{told:?}"
    );
    assert_eq!(library.families[&id("p/f")].exemplars.len(), 1);
    assert_eq!(library.name_of("p/g"), "G");
}

#[test]
fn folders_without_a_record_are_families_in_plain_words() {
    let shelf = Shelf::new()
        .picture("p/f/a.png", 1)
        .text("p/empty/notes.txt", "nothing yet")
        .picture("p/stray.png", 2);
    let (library, told) = shelf.load();
    assert_eq!(
        told,
        [
            "p/stray.png: belongs to no family: move it into a folder `<maker>/<family>` of the library",
            "p/empty: has neither pictures nor a mark.toml: left out",
        ]
    );
    assert_eq!(library.families[&id("p/f")].name, "F");
    assert_eq!(library.maker_name("mill-lane"), "Mill lane");
}

#[test]
fn old_ids_lead_to_living_families_and_never_in_a_circle() {
    let shelf = Shelf::new()
        .text(
            "p/a/mark.toml",
            "name = \"A\"\nwas = [\"p/b\", \"p/old\", \"p/a\"]\n",
        )
        .text(
            "p/b/mark.toml",
            "name = \"B\"\nwas = [\"p/a\", \"p/old\"]\n",
        );
    let (library, told) = shelf.load();
    assert_eq!(library.find(&id("p/old")).unwrap().name, "A");
    assert_eq!(library.find(&id("p/b")).unwrap().name, "B");
    assert!(library.find(&id("p/never")).is_none());
    assert_eq!(told.len(), 3, "{told:#?}");
    assert!(
        told[2].contains("`p/old` is claimed by `p/a` already"),
        "{told:#?}"
    );
}

#[test]
fn unreadable_exemplars_are_told_and_the_cache_knows_the_others() {
    let shelf = Shelf::new()
        .text("p/a/mark.toml", "name = \"A\"\n")
        .picture("p/a/a.png", 1)
        .picture("p/b/same.png", 1)
        .text("p/b/mark.toml", "name = \"B\"\n");
    let whole = fs::read(shelf.root().join("p/a/a.png")).unwrap();
    fs::write(shelf.root().join("p/a/cut.png"), &whole[..whole.len() / 2]).unwrap();
    let (library, _) = load(shelf.root()).unwrap();
    let kept = tempfile::tempdir().unwrap();
    let cache = FileCache::at(kept.path());
    let (references, remarks) = prepare(&library, Some(&cache), 2);
    assert!(!references.is_empty());
    let told: Vec<_> = remarks.iter().map(|r| r.trouble.to_string()).collect();
    assert_eq!(
        told,
        [
            "not used as exemplar: the file ends before the picture does: copy it again from the phone",
            "the same picture stands for `p/a` too: delete one of the two",
        ]
    );
    assert_eq!(super::cache_tests::records(kept.path()).len(), 1);
}

#[test]
fn an_exemplar_that_shows_nothing_is_told_and_used_only_with_its_corners() {
    let shelf = Shelf::new()
        .text("p/a/mark.toml", "name = \"A\"\n")
        .text(
            "p/b/mark.toml",
            "name = \"B\"\n[[image]]\nfile = \"bare.jpg\"\nquad = [[330, 230], [470, 230], [470, 370], [330, 370]]\n",
        );
    for family in ["p/a", "p/b"] {
        let copy = shelf.root().join(family).join("bare.jpg");
        fs::copy("src/demo/sale/IMG_0021.jpg", copy).unwrap();
    }
    let (library, remarks) = load(shelf.root()).unwrap();
    assert_eq!(remarks, []);
    let kept = tempfile::tempdir().unwrap();
    let cache = FileCache::at(kept.path());
    for _ in 0..2 {
        let (references, remarks) = prepare(&library, Some(&cache), 1);
        let told: Vec<_> = remarks.iter().map(|r| &r.trouble).collect();
        assert_eq!(told, [&Trouble::NothingSeen]);
        assert!(remarks[0].path.ends_with("p/a/bare.jpg"));
        assert_eq!(references.len(), 1);
        assert_eq!(references.get(0).family, "p/b");
    }
}

#[test]
fn facts_of_lines_are_read_and_told_of() {
    let shelf = Shelf::new()
        .text("hollin/lines/round.toml", "made = \"1921/1938\"\n")
        .text(
            "hollin/lines/fernway.toml",
            r#"
forms = [
  { form = "cup", made = "1928/1933", marked = "seldom", except = "export", borrowed_from = "round" },
  { form = "bowl", marked = "sometimes" },
  { made = "1931" },
]
borrows = [{ body = "round", glaze = "celadon", source = "price list" }, { body = "square" }]
pairs_with = [{ line = "other/plain", form = "saucer", yaers = "1931" }]

[[decorations]]
name = "Fern"
number = "H####"
customer = "Norvast Hotel"
"#,
        )
        .text("hollin/maker.toml", "forms = [{ form = \"saucer\", marked = \"never\" }]\n")
        .picture("hollin/shop/a.png", 1)
        .text("hollin/shop/mark.toml", "name = \"Shop\"\nrole = \"customer\"\n")
        .picture("hollin/odd/a.png", 2)
        .text("hollin/odd/mark.toml", "name = \"Odd\"\nrole = \"shop\"\n");
    let (library, told) = shelf.load();
    let facts = &library.makers["hollin"].lines["fernway"].facts;
    assert_eq!(facts.forms.len(), 2);
    assert_eq!(facts.forms[0].marked, Some(Habit::Seldom));
    assert_eq!(facts.borrows[0].when.to_string(), "in celadon");
    assert_eq!(
        facts.decorations[0].customer.as_deref(),
        Some("Norvast Hotel")
    );
    assert_eq!(
        library.makers["hollin"].record.facts.forms[0].marked,
        Some(Habit::Never)
    );
    let shop = library.find(&id("hollin/shop")).unwrap();
    assert_eq!(shop.record.role, StampRole::Customer);
    assert_eq!(
        told,
        [
            "hollin/lines/fernway.toml, line 4, key `marked`: must be `always`, `generally`, `seldom` or `never`: the key is left out",
            "hollin/lines/fernway.toml, line 5, key `form`: must be tables with the `form` that they speak of, or a list of names: the key is left out",
            "hollin/lines/fernway.toml, line 8, key `yaers`: is not known here: the nearest known key is `years`",
            "hollin/odd/mark.toml, line 2, key `role`: must be `maker`, `decorator` or `customer`: the key is left out",
            "hollin/lines/fernway.toml, line 7, key `borrows`: there is no line `square`",
            "hollin/lines/fernway.toml, line 8, key `pairs_with`: there is no line `other/plain`",
        ]
    );
}
