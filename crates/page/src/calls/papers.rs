//! Papers from the page: sheets, the picture of a run in time, a report in words.

use super::read::Manner;
use super::report;
use crate::answer::Refusal;
use crate::desks::Which;
use crate::model::Model;
use crate::run::Led;
use crate::server::Shared;
use fiftytwo_scheme::Finding;
use fiftytwo_sheet::{Look, dxf, pdf, pictures, whole_svg_in};
use serde::{Deserialize, Serialize};

#[derive(Debug, Deserialize)]
pub struct Asked {
    scheme: Which,
    /// sheets-pdf, sheets-dxf, sheets-svg, timeline or report.
    what: String,
    #[serde(flatten)]
    manner: Manner,
    #[serde(flatten)]
    led: Led,
}

#[derive(Debug, Serialize)]
pub struct Told {
    text: String,
    name: String,
    mime: &'static str,
    base64: String,
}

pub async fn papers(shared: &Shared, asked: Asked) -> Result<Told, Refusal> {
    let known = shared.office.known(asked.scheme.clone()).await?;
    let text = known.hash.clone();
    let worst = if asked.what == "report" { known.worst().await?.to_vec() } else { Vec::new() };
    let (ending, mime, bytes) = known.ask(move |model| paper(model, &asked, &worst)).await?;
    let title = known.reading.scheme.as_ref().map(|it| it.title.as_str()).unwrap_or_default();
    Ok(Told { text, name: format!("{}{ending}", slug(title)), mime, base64: base64(&bytes) })
}

type Paper = (&'static str, &'static str, Vec<u8>);

fn paper(model: &Model<'_>, asked: &Asked, worst: &[Finding]) -> Result<Paper, Refusal> {
    let drawing = model.drawing(asked.manner.symbols());
    Ok(match asked.what.as_str() {
        "sheets-pdf" => (".pdf", "application/pdf", pdf(drawing)),
        "sheets-dxf" => (".dxf", "image/vnd.dxf", dxf(drawing).into_bytes()),
        "sheets-svg" => (".svg", "image/svg+xml", whole_svg_in(drawing, Look::Light).into_bytes()),
        "timeline" => {
            let played = asked.led.played(model)?;
            let data = fiftytwo_scene::chart::picture(model.scheme, &played.acted.timeline);
            let picture = pictures::timeline(&data);
            let svg = whole_svg_in(&picture, Look::Light);
            ("-timeline.svg", "image/svg+xml", svg.into_bytes())
        }
        "report" => {
            ("-report.txt", "text/plain; charset=utf-8", report::report(model, worst)?.into_bytes())
        }
        other => return Err(Refusal::unclear(format!("{other:?} is no paper."))),
    })
}

fn slug(title: &str) -> String {
    let mut slug = String::new();
    for letter in title.chars().flat_map(char::to_lowercase) {
        if letter.is_ascii_alphanumeric() {
            slug.push(letter);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug: String = slug.trim_end_matches('-').chars().take(60).collect();
    if slug.is_empty() { "scheme".to_owned() } else { slug }
}

/// Base64 of RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let letter = |six: u32| char::from(LETTERS[(six & 63) as usize]);
    let mut out = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for three in bytes.chunks(3) {
        let byte = |at: usize| three.get(at).copied().map_or(0, u32::from);
        let all = byte(0) << 16 | byte(1) << 8 | byte(2);
        out.push(letter(all >> 18));
        out.push(letter(all >> 12));
        out.push(if three.len() > 1 { letter(all >> 6) } else { '=' });
        out.push(if three.len() > 2 { letter(all) } else { '=' });
    }
    out
}

#[cfg(test)]
mod tests {
    use super::base64;

    /// The test vectors of RFC 4648, section 10.
    #[test]
    fn base64_is_that_of_the_standard() {
        for (plain, coded) in [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ] {
            assert_eq!(base64(plain.as_bytes()), coded);
        }
    }
}
