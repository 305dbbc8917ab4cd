//! Packet labels and the packing list.

use guardrow_agronomy::rounding::shown;
use guardrow_publish::document::Paper;
use guardrow_publish::labels::{LabelSheet, LabelStock, PacketLabel, TREATED_CAUTION};
use guardrow_publish::packing::{PackingLine, PackingList};
use guardrow_publish::report::{Column, Row, Table};

use crate::dossier::{Dossier, Laid};
use crate::{Lot, PacketLine, PacketsView, StationError};

/// Builds the labels of all packets in seeding order.
pub(crate) fn label_sheet(
    trial: &Dossier,
    packets: &PacketsView,
    lots: &[Lot],
    blind: bool,
    paper: Paper,
) -> Result<LabelSheet, StationError> {
    let laid = trial.laid()?;
    let of = packets.packets.len() as u32;
    let labels = packets.packets.iter().map(|packet| {
        let (range, pass) = place(laid, packet.plot);
        PacketLabel {
            trial_code: trial.code().to_owned(),
            plot: packet.plot.to_string(),
            sequence: packet.sequence as u32,
            of,
            range,
            pass,
            treatment: (!blind).then(|| packet.treatment.clone()),
            lot: if blind { String::new() } else { packet.lot.clone() },
            mass: packet.grams_shown.clone(),
            count: format!("{} seeds", packet.seeds),
            treated: is_treated(lots, packet),
            code: packet_code(trial, laid, packet),
        }
    });
    Ok(LabelSheet {
        title: format!("Packet labels, trial {}, layout {}", trial.code(), laid.line.version),
        stock: match paper {
            Paper::A4 => LabelStock::a4_3_by_8(),
            Paper::Letter => LabelStock::letter_2_by_5(),
        },
        skip: 0,
        outlines: true,
        treated_caution: TREATED_CAUTION.to_owned(),
        labels: labels.collect(),
    })
}

/// What the QR code of a packet says: trial, layout version, plot and sequence, never the treatment.
pub(crate) fn packet_code(trial: &Dossier, laid: &Laid, packet: &PacketLine) -> String {
    format!("GUARDROW/{}/L{}/P{}/N{}", trial.code(), laid.line.version, packet.plot, packet.sequence)
}

/// Builds the packing list.
pub(crate) fn packing_list(
    trial: &Dossier,
    packets: &PacketsView,
    lots: &[Lot],
    station: &str,
    today: &str,
) -> Result<PackingList, StationError> {
    let laid = trial.laid()?;
    let head = &trial.plan.trial;
    Ok(PackingList {
        trial_code: head.code.clone(),
        title: head.title.clone(),
        station: station.to_owned(),
        season: head.season.to_string(),
        site: head.site.clone(),
        layout_version: laid.line.version,
        prepared_on: today.to_owned(),
        arithmetic: arithmetic(packets),
        lots: lot_table(packets),
        packets: packets
            .packets
            .iter()
            .map(|packet| {
                let (range, pass) = place(laid, packet.plot);
                PackingLine {
                    sequence: packet.sequence as u32,
                    plot: packet.plot.to_string(),
                    range,
                    pass,
                    treatment: packet.treatment.clone(),
                    lot: packet.lot.clone(),
                    mass_g: packet.grams_shown.trim_end_matches(" g").to_owned(),
                    count: packet.seeds.to_string(),
                    treated: is_treated(lots, packet),
                }
            })
            .collect(),
        cautions: cautions(packets, lots),
    })
}

/// The arithmetic of each kind of packet, once.
fn arithmetic(packets: &PacketsView) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for packet in &packets.packets {
        let line = format!("{}: {}", packet.treatment, packet.how);
        if !lines.contains(&line) {
            lines.push(line);
        }
    }
    lines
}

fn lot_table(packets: &PacketsView) -> Table {
    let columns = vec![
        Column::left("Lot"),
        Column::right("Needed").with_unit("g"),
        Column::right("On hand").with_unit("g"),
        Column::right("Left").with_unit("g"),
    ];
    let mut table = Table::new("Need and stock by lot", columns);
    for lot in &packets.lots {
        let grams = |grams: Option<f64>| grams.map_or_else(|| "not entered".to_owned(), |grams| shown(grams, 0));
        table.push(Row::plain([lot.lot.clone(), grams(Some(lot.need_g)), grams(lot.on_hand_g), grams(lot.left_g)]));
    }
    table
}

fn cautions(packets: &PacketsView, lots: &[Lot]) -> Vec<String> {
    let mut lines = Vec::new();
    let used = |lot: &&Lot| packets.lots.iter().any(|need| need.lot == lot.code);
    for lot in lots.iter().filter(used) {
        if !lot.treatment.is_empty() {
            lines.push(format!(
                "Lot {} is treated ({}): gloves and what its label asks for; pack untreated seed first; what is left goes to neither food nor feed.",
                lot.code, lot.treatment
            ));
        }
        if !lot.caution.is_empty() {
            lines.push(format!("Lot {}: {}", lot.code, lot.caution));
        }
    }
    lines
}

fn is_treated(lots: &[Lot], packet: &PacketLine) -> bool {
    lots.iter().any(|lot| lot.code == packet.lot && !lot.treatment.is_empty())
}

fn place(laid: &Laid, plot: u32) -> (u32, u32) {
    laid.plot(plot).map_or((0, 0), |plot| (plot.range as u32, plot.pass as u32))
}
