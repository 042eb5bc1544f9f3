//! Sheets as PDF 1.7. **In:** geometry. **Out:** one document, a page for each sheet at the true
//! size of its paper; the same bytes each time: no clock, no name of a machine. **Never here:** any
//! decision about place or words.
//!
//! Text is real text in the shipped typeface, of which the letters in use are embedded: it can be
//! searched, selected and copied, and looks the same everywhere.

mod ink;
mod letters;

use crate::geometry::{Drawing, Group, Link, Meaning, Point, Role, Shape, Sheet, point};
use crate::layers::layered;
use crate::svg::escaped;
use ink::Strokes;
use letters::Letters;
use pdf_writer::types::{ActionType, AnnotationFlags, AnnotationType, PageMode};
use pdf_writer::{Filter, Finish, Name, Pdf, Rect, Ref, TextStr};

/// Points to a millimetre.
const POINTS: f64 = 72.0 / 25.4;
/// How much of what surrounds the target of a link is to be seen left of it and above it, mm.
const AROUND: (f64, f64) = (60.0, 40.0);

/// Writes a drawing.
pub fn write(drawing: &Drawing) -> Vec<u8> {
    let mut numbers = Numbers(0);
    let mut pdf = Pdf::new();
    let (catalog, info, tree) = (numbers.next(), numbers.next(), numbers.next());
    let pages: Vec<Ref> = drawing.sheets.iter().map(|_| numbers.next()).collect();
    let mut letters = Letters::new(&mut numbers);
    let mut document = Document { pdf: &mut pdf, numbers: &mut numbers, drawing, pages: &pages };
    for (sheet, page) in drawing.sheets.iter().zip(&pages) {
        document.page(tree, *page, sheet, &mut letters);
    }
    let bookmarks = document.bookmarks();
    let metadata = document.metadata();
    letters.embed(&mut pdf, &mut numbers);
    let count = i32::try_from(pages.len()).unwrap_or(i32::MAX);
    pdf.pages(tree).kids(pages).count(count);
    pdf.document_info(info)
        .title(TextStr(&drawing.title))
        .creator(TextStr("fiftytwo"))
        .producer(TextStr("fiftytwo"));
    let mut root = pdf.catalog(catalog);
    root.pages(tree).metadata(metadata).lang(TextStr("en"));
    if let Some(bookmarks) = bookmarks {
        root.outlines(bookmarks).page_mode(PageMode::UseOutlines);
    }
    root.viewer_preferences().display_doc_title(true);
    root.finish();
    let id = id(drawing);
    pdf.set_file_id((id.clone(), id));
    pdf.finish()
}

/// Numbers of the document's objects.
struct Numbers(i32);

impl Numbers {
    fn next(&mut self) -> Ref {
        self.0 += 1;
        Ref::new(self.0)
    }
}

/// A name for the document that follows from what is drawn: FNV-1a.
fn id(drawing: &Drawing) -> Vec<u8> {
    let mut mark: u64 = 0xcbf2_9ce4_8422_2325;
    let mut add = |bytes: &[u8]| {
        for byte in bytes {
            mark = (mark ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
        mark
    };
    add(drawing.title.as_bytes());
    for group in drawing.sheets.iter().flat_map(|sheet| &sheet.items) {
        add(group.id.as_bytes());
        for shape in &group.shapes {
            let area = shape.area();
            for value in [area.left, area.top, area.right, area.bottom] {
                add(&value.to_bits().to_be_bytes());
            }
            if let Shape::Text(text) = shape {
                add(text.words.as_bytes());
            }
        }
    }
    [add(b"first").to_be_bytes(), add(b"second").to_be_bytes()].concat()
}

/// Millimetres, y down from the upper edge of the paper, as points, y up.
fn paper_point(sheet: &Sheet, at: Point) -> (f32, f32) {
    ((at.x * POINTS) as f32, ((sheet.height - at.y) * POINTS) as f32)
}

struct Document<'a> {
    pdf: &'a mut Pdf,
    numbers: &'a mut Numbers,
    drawing: &'a Drawing,
    pages: &'a [Ref],
}

impl Document<'_> {
    fn page(&mut self, tree: Ref, id: Ref, sheet: &Sheet, letters: &mut Letters) {
        let mut strokes = Strokes::new(sheet.height);
        let mut links = Vec::new();
        for group in layered(sheet) {
            for shape in &group.shapes {
                strokes.shape(shape, letters);
                if let Shape::Text(text) = shape
                    && let Meaning::Reference(link) = &text.meaning
                    && let Some(annotation) = self.link(sheet, shape, link)
                {
                    links.push(annotation);
                }
            }
        }
        let content = self.numbers.next();
        let bytes = packed(&strokes.finish());
        self.pdf.stream(content, &bytes).filter(Filter::FlateDecode);
        let (width, height) = ((sheet.width * POINTS) as f32, (sheet.height * POINTS) as f32);
        let mut page = self.pdf.page(id);
        page.parent(tree).media_box(Rect::new(0.0, 0.0, width, height)).contents(content);
        page.annotations(links);
        let mut resources = page.resources();
        let mut fonts = resources.fonts();
        for (name, font) in letters.fonts() {
            fonts.pair(Name(name), font);
        }
    }

    /// A place that leads there when it is clicked.
    fn link(&mut self, sheet: &Sheet, shape: &Shape, link: &Link) -> Option<Ref> {
        let index = self.drawing.sheets.iter().position(|sheet| sheet.number == link.sheet)?;
        let (page, target) = (*self.pages.get(index)?, self.drawing.sheets.get(index)?);
        let area = shape.area().grown(0.6);
        let (left, bottom) = paper_point(sheet, point(area.left, area.bottom));
        let (right, top) = paper_point(sheet, point(area.right, area.top));
        let id = self.numbers.next();
        let mut annotation = self.pdf.annotation(id);
        annotation
            .subtype(AnnotationType::Link)
            .rect(Rect::new(left, bottom, right, top))
            .border(0.0, 0.0, 0.0, None)
            .flags(AnnotationFlags::PRINT);
        if let Some(group) = target.items.iter().find(|group| group.id == link.group) {
            let words = format!("Sheet {}: {}", target.number, group.title);
            annotation.contents(TextStr(&words));
        }
        let (x, y) = view(target, link.at);
        annotation.action().action_type(ActionType::GoTo).destination().page(page).xyz(x, y, None);
        Some(id)
    }

    /// A bookmark for each sheet, below it its legs and tables.
    fn bookmarks(&mut self) -> Option<Ref> {
        if self.drawing.sheets.is_empty() {
            return None;
        }
        let root = self.numbers.next();
        let marks: Vec<Ref> = self.drawing.sheets.iter().map(|_| self.numbers.next()).collect();
        for (index, (sheet, page)) in self.drawing.sheets.iter().zip(self.pages).enumerate() {
            let mark = marks[index];
            let below: Vec<(&Group, String)> =
                sheet.items.iter().filter_map(|group| Some((group, entry(group)?))).collect();
            let ids: Vec<Ref> = below.iter().map(|_| self.numbers.next()).collect();
            for (at, (group, title)) in below.iter().enumerate() {
                let corner = group.shapes.iter().map(Shape::area).reduce(|all, one| all.with(one));
                let Some(corner) = corner else { continue };
                let (x, y) = view(sheet, point(corner.left, corner.top));
                let mut item = self.pdf.outline_item(ids[at]);
                item.title(TextStr(title)).parent(mark);
                neighbours(&mut item, &ids, at);
                item.dest().page(*page).xyz(x, y, None);
            }
            let title = format!("{}  {}", sheet.number, sheet.title);
            let mut item = self.pdf.outline_item(mark);
            item.title(TextStr(&title)).parent(root);
            neighbours(&mut item, &marks, index);
            if let (Some(first), Some(last)) = (ids.first(), ids.last()) {
                // Negative: folded until the reader opens it.
                let count = i32::try_from(ids.len()).unwrap_or(i32::MAX);
                item.first(*first).last(*last).count(-count);
            }
            item.dest().page(*page).fit();
        }
        let (first, last) = (*marks.first()?, *marks.last()?);
        let count = i32::try_from(marks.len()).unwrap_or(i32::MAX);
        self.pdf.outline(root).first(first).last(last).count(count);
        Some(root)
    }

    /// The title once more in the form that archives read (XMP).
    fn metadata(&mut self) -> Ref {
        let id = self.numbers.next();
        let title = escaped(&self.drawing.title);
        let packet = format!(
            "<?xpacket begin=\"\u{feff}\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>\n\
             <x:xmpmeta xmlns:x=\"adobe:ns:meta/\">\
             <rdf:RDF xmlns:rdf=\"http://www.w3.org/1999/02/22-rdf-syntax-ns#\">\
             <rdf:Description rdf:about=\"\" xmlns:dc=\"http://purl.org/dc/elements/1.1/\" \
             xmlns:pdf=\"http://ns.adobe.com/pdf/1.3/\">\
             <dc:title><rdf:Alt><rdf:li xml:lang=\"x-default\">{title}</rdf:li></rdf:Alt></dc:title>\
             <dc:format>application/pdf</dc:format>\
             <pdf:Producer>fiftytwo</pdf:Producer>\
             </rdf:Description></rdf:RDF></x:xmpmeta>\n<?xpacket end=\"r\"?>"
        );
        self.pdf.metadata(id, packet.as_bytes());
        id
    }
}

fn neighbours(item: &mut pdf_writer::writers::OutlineItem<'_>, all: &[Ref], at: usize) {
    if let Some(previous) = at.checked_sub(1).and_then(|before| all.get(before)) {
        item.prev(*previous);
    }
    if let Some(next) = all.get(at + 1) {
        item.next(*next);
    }
}

/// What the reader finds below a sheet's bookmark.
fn entry(group: &Group) -> Option<String> {
    match group.role {
        Role::Leg(_) => Some(group.title.trim_start_matches("leg ").to_owned()),
        _ if group.id.contains(crate::changes::CHANGED_ROW) => None,
        _ if group.id.starts_with("table-") => Some(group.title.clone()),
        _ => None,
    }
}

/// The upper left corner of a window that shows a point with what surrounds it.
fn view(sheet: &Sheet, at: Point) -> (f32, f32) {
    let corner = point((at.x - AROUND.0).max(0.0), (at.y - AROUND.1).max(0.0));
    paper_point(sheet, corner)
}

fn packed(bytes: &[u8]) -> Vec<u8> {
    miniz_oxide::deflate::compress_to_vec_zlib(bytes, 6)
}
