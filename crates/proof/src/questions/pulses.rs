//! Orders that end by themselves: as short as they may last, they do their work.

use super::{Question, all, close_coils, names};
use crate::monitor::Monitor;
use fiftytwo_scheme::{Atom, Expr, Matrix, OrderId, Scheme, Statement};

pub(super) fn questions(scheme: &Scheme, matrix: &Matrix) -> Vec<Question> {
    let mut found = Vec::new();
    let name = &scheme.devices[matrix.breaker].name;
    let closes = !close_coils(scheme, matrix).is_empty();
    for source in matrix.close_by.iter().filter(|_| closes) {
        let Some(lasts) = lasting(scheme, &source.by.expr) else { continue };
        let mut needs: Vec<Expr> =
            matrix.close_needs.iter().map(|need| need.need.expr.clone()).collect();
        needs.extend(exprs(&source.needs));
        let asks = format!(
            "all needs met and nothing tripping, \"{}\" closes {name} however short it is ({lasts})",
            source.by.text
        );
        let monitor = pulse(matrix, &source.by.expr, needs, true);
        let question =
            Question::built_in(names::PERMISSIVES, asks, monitor, source.span, &source.by.text);
        found.push(question.covering(
            "a fresh order at rest to an open, charged breaker that ends in its declared time, while \
             all needs stand; not one given while something still moves",
        ));
    }
    for trip in &matrix.trip_by {
        let Some(lasts) = lasting(scheme, &trip.by.expr) else { continue };
        let asks = format!("\"{}\" opens {name} however short it is ({lasts})", trip.by.text);
        let monitor = pulse(matrix, &trip.by.expr, exprs(&trip.needs).collect(), false);
        let question =
            Question::built_in(names::EVERY_TRIP, asks, monitor, trip.span, &trip.by.text);
        found.push(question.covering(
            "a fresh order at rest to a closed breaker that ends in its declared time, while its needs \
             stand; not one given in the middle of a stroke",
        ));
    }
    found
}

fn exprs(statements: &[Statement]) -> impl Iterator<Item = Expr> + '_ {
    statements.iter().map(|statement| statement.expr.clone())
}

fn pulse(matrix: &Matrix, order: &Expr, needs: Vec<Expr>, closes: bool) -> Monitor {
    Monitor::LosesPulse { breaker: matrix.breaker, order: order.clone(), needs: all(needs), closes }
}

/// How long the shortest-lived order of a statement lasts, as written.
fn lasting<'s>(scheme: &'s Scheme, expr: &Expr) -> Option<&'s str> {
    let mut orders: Vec<OrderId> = Vec::new();
    expr.atoms(&mut |atom| {
        if let Atom::Order(order) = atom {
            orders.push(order);
        }
    });
    let lasts = orders.into_iter().filter_map(|order| scheme.orders[order].lasts.as_ref());
    lasts.min_by_key(|time| time.lo).map(|time| time.written.as_str())
}
