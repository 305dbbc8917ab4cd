//! Seed lots and packets.

use std::sync::Arc;

use axum::extract::State;
use guardrow_station::{Lot, PacketsView, SaveLot, Station};

use crate::answer::{Answer, ask};
use crate::fault::{Fault, FaultKind};
use crate::reading::{Named, Told};

type Shared = State<Arc<Station>>;

/// Enters a lot or what is newly known of it.
#[utoipa::path(put, path = "/api/lots/{lot}", tag = "supplies",
    params(("lot" = String, Path, description = "Code of the lot; the same as in the body.")), request_body = SaveLot,
    responses((status = 200, description = "The lot as it now is.", body = Lot)))]
pub async fn save_lot(
    State(station): Shared,
    Named(code): Named<String>,
    Told(wish): Told<SaveLot>,
) -> Result<Answer<Lot>, Fault> {
    if wish.lot.code != code {
        let what = format!("the address names lot “{code}”, the body lot “{}”", wish.lot.code);
        return Err(Fault::new(FaultKind::NotUnderstood, what, "lot.code", "send the same code in both"));
    }
    ask(station, move |station| station.save_lot(&wish)).await.map(Answer)
}

/// The packets of a trial in seeding order, and what each lot has to give.
#[utoipa::path(get, path = "/api/trials/{code}/packets", tag = "supplies",
    params(("code" = String, Path, description = "Code of the trial.")),
    responses((status = 200, description = "The packets.", body = PacketsView)))]
pub async fn packets(State(station): Shared, Named(code): Named<String>) -> Result<Answer<PacketsView>, Fault> {
    ask(station, move |station| station.packets(&code)).await.map(Answer)
}
