//! Every document can be made, twice alike, from ordinary, odd, empty and large views.

#[path = "../examples/specimen/field.rs"]
#[allow(dead_code)]
mod field;
#[path = "../examples/specimen/trial.rs"]
mod trial;

use guardrow_publish::chart::{Chart, CurvePanel, Figure, InteractionLine, Width, draw, plot_map_to_touch};
use guardrow_publish::document::{self, Paper};
use guardrow_publish::field_sheet::{FieldSheet, SheetPlot};
use guardrow_publish::labels::{LabelSheet, LabelStock, PacketLabel};
use guardrow_publish::map::{ColourBy, Corner, MapPlot, MapView, Travel};
use guardrow_publish::packing::PackingList;
use guardrow_publish::report::{Report, Row, Table};
use guardrow_publish::{PublishError, workbook};

/// Number of pages, read from the page tree.
fn pages(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let tree = text.split("/Type/Pages/Count ").nth(1).expect("a PDF has a page tree");
    tree.chars().take_while(char::is_ascii_digit).collect::<String>().parse().expect("a count")
}

fn check(expected_pages: usize, make: impl Fn() -> Result<Vec<u8>, PublishError>) {
    let first = make().expect("the document is made");
    assert_eq!(pages(&first), expected_pages);
    assert!(first == make().expect("and made again"), "the same view gives the same bytes");
    let text = String::from_utf8_lossy(&first);
    assert!(!text.contains("/CreationDate"), "no clock was read");
}

#[test]
fn specimens_have_their_pages_and_come_out_alike() {
    check(4, || document::report_pdf(&trial::report(), Paper::A4));
    check(1, || document::map_pdf(&trial::map(), Paper::A4));
    check(1, || document::map_pdf(&trial::map().blinded(), Paper::Letter));
    check(5, || document::field_sheet_pdf(&field::sheets(), Paper::A4));
    check(2, || document::labels_pdf(&field::labels()));
    check(2, || document::packing_pdf(&field::packing_list(), Paper::A4));
}

#[test]
fn report_is_tagged_and_names_its_language() {
    let pdf = document::report_pdf(&trial::report(), Paper::A4).expect("the report is made");
    let text = String::from_utf8_lossy(&pdf);
    assert!(text.contains("/MarkInfo") && text.contains("/StructTreeRoot"), "tagged");
    assert!(text.contains("/Lang"), "language");
}

#[test]
fn empty_views_still_make_a_document() {
    check(1, || document::report_pdf(&Report::default(), Paper::A4));
    check(1, || document::map_pdf(&MapView::default(), Paper::A4));
    check(1, || document::field_sheet_pdf(&[FieldSheet::default()], Paper::A4));
    check(1, || document::labels_pdf(&LabelSheet::default()));
    check(1, || document::packing_pdf(&PackingList::default(), Paper::A4));
    assert!(workbook::field_sheets_xlsx(&[]).is_ok());
    assert!(workbook::field_sheets_xlsx(&[FieldSheet::default()]).is_ok());
}

/// Text that templates, SVG and spreadsheets must carry without harm.
fn odd_texts() -> Vec<String> {
    let signs = "\"quoted\" 'single' \\ back # hash $ dollar @at <b>&amp; *star* _under_ `code` [x] {y} ~";
    let code = "#panic(\"run\") #image(\"/etc/hostname\") =HYPERLINK(\"x\")";
    let scripts = "🌾 emoji 🚜 and عربي and עברית and 中文 and combining e\u{301}\u{301}\u{301}";
    let controls = "control \u{0}\u{1}\u{7}\u{1b} nul, \u{202e}override\u{202c}, \u{fffe}\u{feff} and\ttab\nnewline";
    vec![[signs, code, scripts, controls].join(" "), "word ".repeat(2000), "x".repeat(10_000), "   ".to_string()]
}

fn odd_report(text: &str) -> Report {
    let mut report = trial::report();
    report.heading.title = text.into();
    report.heading.stamp.text = text.into();
    report.heading.people[0].role = text.into();
    report.question.claim = text.into();
    report.question.chain.rows[0].cells[3] = text.into();
    report.findings[0].sentence = text.into();
    report.findings[0].verdict.word = text.chars().take(60).collect();
    report.responses[0].measure = text.chars().take(300).collect();
    report.responses[0].means[0].rows[0].cells[0] = text.into();
    report.map = Some(Figure::new(text.chars().take(200).collect::<String>(), Chart::PlotMap(odd_map(text))));
    report.cautions.push(text.into());
    report
}

fn odd_map(text: &str) -> MapView {
    let mut map = trial::map();
    map.trial_code = text.into();
    map.title = text.into();
    map.site = text.into();
    map.plots[1].treatment = text.into();
    map.treatments[0].label = text.into();
    map.notes.push(text.into());
    map
}

#[test]
fn odd_text_is_only_text() {
    for text in odd_texts() {
        document::report_pdf(&odd_report(&text), Paper::A4).expect("report");
        document::map_pdf(&odd_map(&text), Paper::A4).expect("map");
        let mut sheets = vec![field::sheets().remove(0)];
        sheets[0].event = text.clone();
        sheets[0].measures[0].name = text.clone();
        sheets[0].sheet_id = text.clone();
        sheets[0].plots[0].treatment = Some(text.clone());
        document::field_sheet_pdf(&sheets, Paper::A4).expect("field sheet");
        workbook::field_sheets_xlsx(&sheets).expect("workbook");
        let mut labels = field::labels();
        labels.labels.truncate(3);
        labels.treated_caution = text.clone();
        labels.labels[0].plot = text.clone();
        labels.labels[0].treatment = Some(text.clone());
        labels.labels[0].lot = text.clone();
        document::labels_pdf(&labels).expect("labels");
        let mut list = field::packing_list();
        list.packets[0].treatment = text.clone();
        list.packets[0].lot = text.clone();
        document::packing_pdf(&list, Paper::A4).expect("packing list");
    }
}

#[test]
fn drawings_are_well_formed_xml_whatever_the_text() {
    for text in odd_texts() {
        for svg in
            [draw(&Chart::PlotMap(odd_map(&text)), Width::Page), draw(&Chart::PlotMap(odd_map(&text)), Width::Phone)]
        {
            assert!(!svg.chars().any(|character| character.is_control() && character != '\n'), "a control character");
            let opened = svg.matches("<g ").count();
            assert_eq!(opened, svg.matches("</g>").count());
            assert!(!svg.contains("-0\"") && !svg.contains("NaN") && !svg.contains("inf"));
        }
    }
}

fn large_map(plots: u32) -> MapView {
    let place = |index: u32| MapPlot {
        range: index / 20 + 1,
        pass: index % 20 + 1,
        number: Some((index / 20 + 1) * 100 + index % 20 + 1),
        treatment_number: Some(index % 30 + 1),
        treatment: format!("line {}", index % 30 + 1),
        replicate: Some(index / 60 + 1),
        ..MapPlot::default()
    };
    MapView { plots: (0..plots).map(place).collect(), plot_length_m: 6.0, plot_width_m: 1.5, ..trial::map() }
}

#[test]
fn three_hundred_plots_fit() {
    let map = large_map(300);
    check(1, || document::map_pdf(&map, Paper::A4));
    let plots: Vec<SheetPlot> = map
        .plots
        .iter()
        .map(|plot| SheetPlot {
            plot: plot.number.unwrap_or(0),
            range: plot.range,
            pass: plot.pass,
            replicate: plot.replicate.unwrap_or(0),
            treatment: None,
        })
        .collect();
    let sheet = FieldSheet { plots, ..field::sheets().remove(0) };
    assert!(pages(&document::field_sheet_pdf(&[sheet], Paper::A4).expect("field sheet")) >= 10);
    let label = field::labels().labels.remove(0);
    let labels = (1..=300).map(|sequence| PacketLabel { sequence, of: 300, ..label.clone() }).collect();
    let sheet = LabelSheet { labels, ..field::labels() };
    assert_eq!(pages(&document::labels_pdf(&sheet).expect("labels")), 13);
}

#[test]
fn a_blind_map_tells_no_treatment() {
    let svg =
        draw(&Chart::PlotMap(MapView { blind: true, colour_by: ColourBy::Treatment, ..trial::map() }), Width::Page);
    assert!(!svg.contains("early") && !svg.contains("late,"), "the drawing of a map marked blind");
    // The title tells the question, which a scorer may know; the plots and the key must tell nothing.
    let blinded = MapView { title: String::new(), ..trial::map().blinded() };
    let data = serde_json::to_string(&blinded).expect("a map is plain data");
    assert!(!data.contains("early") && !data.contains("kernels") && !data.contains("treatment_number\":1"), "{data}");
}

#[test]
fn every_corner_and_travel_is_drawn_inside_the_frame() {
    for start_corner in [Corner::BottomLeft, Corner::BottomRight, Corner::TopLeft, Corner::TopRight] {
        for travel in [Travel::Serpentine, Travel::OneWay] {
            let svg = draw(&Chart::PlotMap(MapView { start_corner, travel, ..trial::map() }), Width::Page);
            let coordinates = svg.split(['"', ' ', ',', 'L', 'M', 'Z']).filter_map(|part| part.parse::<f64>().ok());
            assert!(coordinates.clone().all(|value| value >= -1.0), "{start_corner:?}");
            assert!(coordinates.fold(0.0, f64::max) < 1000.0);
        }
    }
}

/// Range 1 is the front of the trial and pass 1 its left, wherever the seeder begins: a map that turned with the seeder
/// would show another trial than the one on the ground.
#[test]
fn the_corner_of_the_seeder_never_moves_a_plot() {
    let places = |start_corner: Corner| -> Vec<(f64, f64)> {
        let svg = draw(&Chart::PlotMap(MapView { start_corner, ..trial::map() }), Width::Page);
        let place = |number: u32| {
            let plot = svg.split(&format!("data-plot=\"{number}\"")).nth(1).expect("the plot is drawn");
            let value = |name: &str| plot.split(&format!("{name}=\"")).nth(1)?.split('"').next()?.parse::<f64>().ok();
            (value(" x").expect("x"), value(" y").expect("y"))
        };
        let origin = place(101);
        [101, 102, 108, 201, 401].map(|number| (place(number).0 - origin.0, place(number).1 - origin.1)).to_vec()
    };
    let from_front_left = places(Corner::BottomLeft);
    assert!(from_front_left[1].0 > 0.0 && from_front_left[3].1 < 0.0, "{from_front_left:?}");
    for corner in [Corner::BottomRight, Corner::TopLeft, Corner::TopRight] {
        assert_eq!(places(corner), from_front_left, "{corner:?}");
    }
}

#[test]
fn the_first_trip_enters_at_the_corner_of_the_seeder() {
    let first_arrow = |start_corner: Corner| {
        let svg = draw(&Chart::PlotMap(MapView { start_corner, ..trial::map() }), Width::Page);
        let travel = svg.split("gr-travel").nth(1).expect("the trips are drawn");
        let shape = travel.split(" d=\"M").nth(1).expect("the first arrow").split('Z').next().expect("its shape");
        let corners: Vec<(f64, f64)> = shape
            .split('L')
            .filter_map(|corner| corner.split_once(' '))
            .map(|(x, y)| (x.parse().expect("x"), y.parse().expect("y")))
            .collect();
        let (tip, base) = (corners[0], corners[1]);
        (tip.0 > 330.0, tip.1 < 200.0, tip.1 > base.1)
    };
    for (corner, right, top) in [
        (Corner::BottomLeft, false, false),
        (Corner::BottomRight, true, false),
        (Corner::TopLeft, false, true),
        (Corner::TopRight, true, true),
    ] {
        // At the right, at the back, and pointing forward from there: away from the edge that it stands at.
        assert_eq!(first_arrow(corner), (right, top, top), "{corner:?}");
    }
}

#[test]
fn a_map_to_touch_has_no_plot_narrower_than_a_finger() {
    for (map, width) in [(trial::map(), Width::Phone), (large_map(300), Width::Page)] {
        let svg = plot_map_to_touch(&map, width);
        let widths: Vec<f64> = svg
            .split("gr-plot-fill")
            .skip(1)
            .filter_map(|plot| plot.split("width=\"").nth(1)?.split('"').next()?.parse().ok())
            .collect();
        assert_eq!(widths.len(), map.plots.len());
        assert!(widths.iter().all(|&width| width >= 44.0), "{widths:?}");
    }
}

#[test]
fn charts_bear_values_that_cannot_be_drawn() {
    for (name, figure) in trial::figures() {
        let mut chart = figure.chart;
        for bad in [f64::NAN, f64::INFINITY, -1e300, 0.0] {
            match &mut chart {
                Chart::Means(means) => (means.rows[0].mean, means.rows[1].lower) = (bad, bad),
                Chart::Differences(differences) => {
                    (differences.rows[0].upper_95, differences.margin) = (bad, Some(bad));
                }
                Chart::Interaction(interaction) => {
                    interaction.lines[0].points[0].mean = bad;
                    interaction.lines.push(InteractionLine::default());
                }
                Chart::ResponseCurve(curves) => {
                    let panel = &mut curves.panels[0];
                    (panel.plots[0].value, panel.means[0].upper) = (bad, Some(bad));
                    (panel.course[3].upper, panel.course[4].value, panel.best[0].amount) = (Some(bad), bad, bad);
                    panel.best[1].lower = Some(bad);
                    curves.panels.push(CurvePanel::default());
                }
                Chart::Residuals(residuals) => residuals.points[0].fitted = bad,
                Chart::PlotMap(map) => (map.plots[1].value, map.up_bearing_deg) = (Some(bad), Some(bad)),
            }
            let svg = draw(&chart, Width::Page);
            assert!(!svg.contains("NaN") && !svg.contains("inf\"") && !svg.contains("\"-0\""), "{name} with {bad}");
        }
    }
}

#[test]
fn labels_refuse_what_cannot_be_printed() {
    let stock = |change: fn(&mut LabelStock)| {
        let mut sheet = field::labels();
        change(&mut sheet.stock);
        document::labels_pdf(&sheet)
    };
    type Change = fn(&mut LabelStock);
    let wrong: [Change; 6] = [
        |stock| stock.columns = 4,
        |stock| stock.rows = 0,
        |stock| stock.width_mm = f64::NAN,
        |stock| stock.height_mm = 5.0,
        |stock| stock.left_mm = -2.0,
        |stock| stock.sheet_height_mm = 1e9,
    ];
    for change in wrong {
        assert!(matches!(stock(change), Err(PublishError::Stock { .. })));
    }
    let mut sheet = field::labels();
    sheet.stock = LabelStock::letter_2_by_5();
    assert!(document::labels_pdf(&sheet).is_ok());
    sheet.labels[4].code = "y".repeat(400);
    let error = document::labels_pdf(&sheet).expect_err("too long for a code");
    assert!(error.to_string().contains("label 5 (plot 105)"), "{error}");
}

#[test]
fn a_table_with_many_long_columns_is_set() {
    let columns =
        (0..14).map(|index| guardrow_publish::report::Column::left(format!("a long heading {index}"))).collect();
    let mut table = Table::new("wide", columns);
    for _ in 0..60 {
        table.push(Row::plain((0..14).map(|_| "some words that go on and on")));
    }
    let mut report = trial::report();
    report.harvest.as_mut().expect("the specimen has a harvest").table = table;
    assert!(pages(&document::report_pdf(&report, Paper::Letter).expect("report")) > 4);
}
