//! A drawing shows a moment without moving anything: a place learned by eye stays.
#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]

use fiftytwo_scene::state::moments;
use fiftytwo_scheme::read_path;
use fiftytwo_sheet::{Options, draw, draw_live};
use std::path::Path;

#[test]
fn nothing_moves_on_the_sheets_while_a_story_is_played() {
    for name in ["quillmere", "dunmarrow", "dunmarrow-repaired"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../examples").join(name);
        let scheme = read_path(&path.join("scheme.kdl")).scheme.unwrap();
        let rest = draw(&scheme, &Options::default());
        for story in &scheme.stories {
            let times = [0, 20_000, 60_000, 100_000, 200_000, 400_000];
            let (moments, _) = moments(&scheme, story, &times).unwrap();
            for moment in &moments {
                let live = draw_live(&scheme, &Options::default(), &moment.live);
                assert_eq!(live.sheets.len(), rest.sheets.len());
                for (now, still) in live.sheets.iter().zip(&rest.sheets) {
                    assert_eq!(now.boxes, still.boxes, "{name}: {}", moment.live.title);
                }
            }
        }
    }
}
