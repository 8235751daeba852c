//! What is known of a photo's pieces as an XMP sidecar (ISO 16684-1), for photo managers: Dublin Core
//! title, description and subjects, and of IPTC Core 1.3 the headline and the alternative text.
//!
//! Nothing stands in it but what a description says: no cost, owner, place or coordinates.

use maud::{Markup, PreEscaped, html as markup};

use super::xml::{DECLARATION, xml};

/// What a sidecar says.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Sidecar {
    pub title: String,
    pub description: String,
    /// Key words, each once.
    pub subjects: Vec<String>,
    /// What the photo shows, for those who do not see it.
    pub shows: String,
}

/// The name by which a sidecar of ours is known again, and may be written anew.
pub const TOOLKIT: &str = "Footring";

/// The packet. The same words give the same bytes.
pub fn sidecar(words: &Sidecar) -> String {
    let packet = markup! {
        x:xmpmeta xmlns:x="adobe:ns:meta/" x:xmptk=(TOOLKIT) {
            rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#" {
                rdf:Description rdf:about=""
                    xmlns:dc="http://purl.org/dc/elements/1.1/"
                    xmlns:photoshop="http://ns.adobe.com/photoshop/1.0/"
                    xmlns:Iptc4xmpCore="http://iptc.org/std/Iptc4xmpCore/1.0/xmlns/" {
                    dc:title { (language(&words.title)) }
                    dc:description { (language(&words.description)) }
                    dc:subject {
                        rdf:Bag { @for word in &words.subjects { rdf:li { (xml(word)) } } }
                    }
                    photoshop:Headline { (xml(&words.title)) }
                    Iptc4xmpCore:AltTextAccessibility { (language(&words.shows)) }
                }
            }
        }
    };
    format!(
        "{DECLARATION}<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n{}\n<?xpacket end=\"w\"?>\n",
        packet.into_string()
    )
}

/// A text in the language that is meant where none is asked for.
fn language(text: &str) -> Markup {
    markup! { rdf:Alt { rdf:li xml:lang="x-default" { (xml(text)) } } }
}

/// Whether a file is a sidecar that [`sidecar`] wrote.
pub fn is_ours(text: &str) -> bool {
    let mark = markup! { (PreEscaped(format!("x:xmptk=\"{TOOLKIT}\""))) };
    text.contains(&mark.into_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sidecar_is_known_again_and_escapes_what_it_must() {
        let words = Sidecar {
            title: "Cup & saucer".to_owned(),
            description: "Marked \"A <B>\"\u{b}.".to_owned(),
            subjects: vec!["cup".to_owned(), "fern".to_owned()],
            shows: "Underside of a cup".to_owned(),
        };
        let text = sidecar(&words);
        assert!(is_ours(&text) && !is_ours("<x:xmpmeta x:xmptk=\"other\">"));
        assert!(text.contains("Cup &amp; saucer") && text.contains("A &lt;B&gt;"));
        assert!(!text.contains('\u{b}'));
        assert_eq!(text.matches("<rdf:li>").count(), 2);
    }
}
