//! Models written by the exporter, counted by `spin` (a general-purpose model checker that shares
//! nothing with us), against our own searches: positions, moves, verdicts, shortest stories.

#![allow(clippy::unwrap_used, reason = "a test may fail loudly")]
#![allow(clippy::print_stdout, reason = "counts are told to who asks for them")]

mod export_spin;
mod schemes;

use export_spin::{is_there, spin};
use fiftytwo_motion::Machine;
use fiftytwo_motion::machine::{Scope, State};
use fiftytwo_proof::cone::Dependencies;
use fiftytwo_proof::export::{Form, Model, model};
use fiftytwo_proof::monitor::{Aim, Monitor};
use fiftytwo_proof::questions::Setting;
use fiftytwo_proof::search::{Limits, Outcome, Space, search};
use fiftytwo_proof::space::{ANY_NUMBER, Place, Product, Step};
use fiftytwo_proof::ticks;
use fiftytwo_proof::timed::{self, TimedOutcome};
use fiftytwo_proof::{export, questions, starts};
use fiftytwo_scheme::Scheme;
use schemes::{all, nothing, scheme};

/// The same space with nothing wrong in it: what lies beside a broken claim is counted too.
struct Whole<'a, 'm, 's>(&'a Product<'m, 's>);

impl Space for Whole<'_, '_, '_> {
    type Place = Place;
    type Event = Step;
    fn starts(&self) -> Vec<Place> {
        Space::starts(self.0)
    }
    fn steps(&self, place: &Place, out: &mut Vec<(Step, Place)>) {
        self.0.steps(place, out);
    }
    fn refutes(&self, _place: &Place) -> bool {
        false
    }
}

/// A claim put to a scheme.
struct Asked<'a, 's> {
    name: &'a str,
    machine: &'a Machine<'s>,
    scope: &'a Scope,
    monitor: &'a Monitor,
    starts: &'a [State],
}

impl Asked<'_, '_> {
    fn model(&self, form: Form) -> Model {
        model(self.machine, self.scope, self.monitor, self.starts, form, self.name).unwrap()
    }
    fn product(&self, timed: bool) -> Product<'_, '_> {
        Product::new(self.machine, self.scope, self.monitor, self.starts, timed, ANY_NUMBER)
            .unwrap()
    }
    /// In any order: as many positions and moves, and the claim broken after as many moves.
    fn in_any_order(&self) -> usize {
        let name = self.name;
        let model = self.model(Form::AnyOrder);
        let product = self.product(false);
        let Outcome::Exhausted { places, steps } = search(&Whole(&product), &Limits::USUAL) else {
            panic!("{name}: more than the limit")
        };
        let story = match search(&product, &Limits::USUAL) {
            Outcome::Refuted { story, .. } => Some(story.len()),
            Outcome::Exhausted { .. } => None,
            other => panic!("{other:?}"),
        };
        if is_there() {
            // One position more before a run begins; a transition to each start, and spin counts
            // the first position as one.
            let found = spin(&model.text, &["-DCOUNT"]);
            let counts = (found.states, found.transitions);
            assert_eq!(counts, (places + 1, steps + model.starts + 1), "{name}");
            let broken = spin(&model.text, &[]).broken_after;
            assert_eq!(broken, story, "{name}");
            println!("{name}: {places} positions, {steps} moves, broken after {story:?}");
        }
        places
    }
    /// Within tolerances, in whole ticks: as many positions with their stopwatches, as many without,
    /// the same verdict; and the same by zones.
    fn in_ticks(&self) -> usize {
        let name = self.name;
        let model = self.model(Form::WithinTolerances);
        let tick = model.tick.unwrap();
        let product = self.product(true);
        let ours = ticks::explore(&product, tick, &Limits::USUAL);
        assert_eq!(ours.limit, None, "{name}");
        let by_zones = match timed::explore(&product, &Limits::USUAL) {
            TimedOutcome::Exhausted { stops, .. } => {
                assert_eq!(stops.len(), 0, "{name}: time stops");
                None
            }
            TimedOutcome::Refuted { story, .. } => Some(story.events.len()),
            other => panic!("{name}: {other:?}"),
        };
        assert_eq!(ours.refuted_after, by_zones, "{name}");
        if is_there() {
            let found = spin(&model.text, &["-DCOUNT", "-DPLACES"]);
            println!(
                "{name}: tick {tick} us, {} states in {} places, broken after {:?}; {found:?}",
                ours.states,
                ours.places.len(),
                ours.refuted_after
            );
            assert_eq!(
                (found.states, found.places),
                (ours.states + 1, ours.places.len()),
                "{name}"
            );
            let broken = spin(&model.text, &[]).broken_after.is_some();
            assert_eq!(broken, ours.refuted_after.is_some(), "{name}");
        }
        ours.states
    }
    /// Within tolerances: whether it holds, by zones and in whole ticks.
    fn same_verdict_in_ticks(&self) -> bool {
        let name = self.name;
        let holds = match timed::explore(&self.product(true), &Limits::USUAL) {
            TimedOutcome::Exhausted { stops, .. } => {
                assert_eq!(stops.len(), 0, "{name}: time stops");
                true
            }
            TimedOutcome::Refuted { .. } => false,
            other => panic!("{name}: {other:?}"),
        };
        if is_there() {
            let broken = spin(&self.model(Form::WithinTolerances).text, &[]).broken_after;
            assert_eq!(broken.is_none(), holds, "{name}: {broken:?}");
        }
        holds
    }
}

/// From the scheme as drawn, with everything known.
fn as_drawn<R>(scheme: &Scheme, monitor: &Monitor, ask: impl FnOnce(&Asked<'_, '_>) -> R) -> R {
    let machine = Machine::new(scheme).unwrap();
    let scope = Scope::whole(&machine);
    let starts = [machine.drawn()];
    let name = &scheme.title;
    ask(&Asked { name, machine: &machine, scope: &scope, monitor, starts: &starts })
}

/// Every claim that `takes` accepts, each with what matters for it, from all its starts. Claims
/// across the loss of a supply are not exported.
fn each_claim(
    scheme: &Scheme,
    takes: impl Fn(&Monitor) -> bool,
    mut ask: impl FnMut(&Asked<'_, '_>),
) {
    let machine = Machine::new(scheme).unwrap();
    let dependencies = Dependencies::new(&machine);
    let starts = starts(&machine);
    for question in questions(scheme) {
        // What has to come of a premise is sought in a run of its own, not in the search.
        let as_usual = Setting { reaches: question.setting.reaches.clone(), ..Setting::default() };
        let plain = question.across.is_none() && question.setting == as_usual;
        let known = |monitor: &&Monitor| {
            !matches!(
                monitor,
                Monitor::FailsDuty { .. }
                    | Monitor::ComesToRest
                    | Monitor::RefusesOrder { aim: Aim::CloseAllTheSame | Aim::OpenAllTheSame, .. }
            )
        };
        let monitor = question.monitor.as_ref().filter(|_| plain).filter(known);
        let Some(monitor) = monitor.filter(|monitor| takes(monitor)) else { continue };
        let ladder = dependencies.ladder(monitor);
        let scope = ladder.last().unwrap();
        let name = format!("{}: {}", scheme.title, question.asks);
        ask(&Asked { name: &name, machine: &machine, scope, monitor, starts: &starts });
    }
}

/// The positions of each claim in any order.
fn claims(scheme: &Scheme, takes: impl Fn(&Monitor) -> bool) -> Vec<usize> {
    let mut counts = Vec::new();
    each_claim(scheme, takes, |asked| counts.push(asked.in_any_order()));
    counts
}

/// Claims about closings, or the designer's own about every state.
fn is_plain(monitor: &Monitor) -> bool {
    matches!(monitor, Monitor::Holds { .. } | Monitor::ClosesTwice { .. })
}

#[test]
fn small_circuits_are_counted_alike_in_any_order() {
    let counts = [
        (include_str!("peers/seal-in.kdl"), 12),
        (include_str!("peers/latch.kdl"), 40),
        (include_str!("peers/reversing.kdl"), 40),
    ];
    for (text, places) in counts {
        let scheme = scheme(text);
        let monitor = Monitor::Holds { what: nothing(&scheme) };
        assert_eq!(
            as_drawn(&scheme, &monitor, |asked| asked.in_any_order()),
            places,
            "{}",
            scheme.title
        );
    }
    let text = include_str!("peers/reversing.kdl");
    let bare = text
        .replace("        contact \"KR\" \"b1\"\n", "")
        .replace("        contact \"KF\" \"b1\"\n", "");
    let scheme = scheme(&bare);
    let both = Monitor::Holds { what: all(&scheme, &[("KF", 1), ("KR", 1)]) };
    as_drawn(&scheme, &both, |asked| asked.in_any_order());
}

#[test]
fn a_lockout_is_counted_alike_for_every_claim() {
    let scheme = scheme(include_str!("export/lockout.kdl"));
    assert_eq!(claims(&scheme, |_| true).len(), 7);
}

#[test]
fn anti_pumps_are_counted_alike_and_pump_after_as_many_moves() {
    let schemes = [
        include_str!("export/anti-pump-seal.kdl"),
        include_str!("export/anti-pump-xy.kdl"),
        include_str!("export/anti-pump-charging.kdl"),
    ];
    for text in schemes {
        assert_eq!(claims(&scheme(text), is_plain).len(), 1);
    }
}

#[test]
fn a_timer_a_memory_and_an_opto_input_are_counted_alike() {
    assert_eq!(claims(&scheme(include_str!("export/timer.kdl")), is_plain).len(), 1);
}

#[test]
fn where_volts_decide_both_are_tried() {
    let scheme = scheme(include_str!("export/monitored.kdl"));
    let monitor = Monitor::Holds { what: all(&scheme, &[("K1", 1), ("K2", 1)]) };
    let machine = Machine::new(&scheme).unwrap();
    let scope = Scope::whole(&machine);
    let model = |form| model(&machine, &scope, &monitor, &[machine.drawn()], form, "two relays");
    assert!(model(Form::AnyOrder).unwrap().perhaps);
    let refused = model(Form::WithinTolerances).unwrap_err();
    assert!(refused.0.contains("decided by volts"), "{refused}");
    as_drawn(&scheme, &monitor, |asked| asked.in_any_order());
}

#[test]
fn a_whole_breaker_with_its_anti_pump_is_counted_alike() {
    let scheme = scheme(include_str!("../../../examples/dunmarrow/scheme.kdl"));
    assert_eq!(claims(&scheme, is_plain), [307_840]);
}

#[test]
fn what_rests_after_an_interruption_rests() {
    let scheme = scheme(include_str!("export/rest-after-a-dip.kdl"));
    claims(&scheme, |_| true);
}

#[test]
fn small_circuits_are_counted_alike_in_ticks() {
    let quick = |text: &str| {
        text.replace("10 to 25 ms", "3 to 5 ms")
            .replace("8 to 20 ms", "2 to 4 ms")
            .replace("10 to 30 ms", "4 to 6 ms")
    };
    let texts = [
        include_str!("peers/seal-in.kdl").to_owned(),
        quick(include_str!("peers/latch.kdl")),
        quick(include_str!("peers/reversing.kdl")),
    ];
    for text in texts {
        let scheme = scheme(&text);
        let monitor = Monitor::Holds { what: nothing(&scheme) };
        as_drawn(&scheme, &monitor, |asked| asked.in_ticks());
    }
}

/// Claims of each kind with a memory or a time of its own, on a relay that seals itself in.
fn sealed_in(longest: &str) -> Scheme {
    let text = include_str!("peers/seal-in.kdl").replace(
        "    leg \"Seal-in\" {",
        "    leg \"Lamp\" { contact \"K1\" \"a2\"; lamp \"RED\" \"8 mA\" shows=\"K1 picked up\" }\n    leg \"Seal-in\" {",
    );
    let text = text.replace(
        "contact \"a1\" closed-when=\"picked up\"",
        "contact \"a1\" \"a2\" closed-when=\"picked up\"",
    );
    scheme(&format!(
        r#"{text}
claim "let go in time" never="K1 picked up and PB2 pressed" longer-than="{longest}"
claim "picked up in time" if="PB1 pressed and PB2 released" then="K1 picked up" within="25 ms"
claim "picked up in the end" if="PB1 pressed and PB2 released" then="K1 picked up"
claim "once" during="PB1 pressed" at-most=1 of="K1 picked up"
claim "three times" at-most=3 of="PB1 pressed and PB2 pressed"
"#
    ))
}

#[test]
fn claims_with_a_time_a_count_or_rest_are_counted_alike_in_any_order() {
    assert_eq!(claims(&sealed_in("20 ms"), |_| true).len(), 6);
}

/// K1 has dropped out 20 ms after its drive at the latest, and its a contact opens 0.5 ms before: the
/// time itself is still allowed.
#[test]
fn what_must_not_last_is_timed_alike_in_ticks() {
    let lasting = |monitor: &Monitor| matches!(monitor, Monitor::Longer { .. });
    let verdicts = |longest: &str| {
        let mut verdicts = Vec::new();
        each_claim(&sealed_in(longest), lasting, |asked| {
            verdicts.push(asked.same_verdict_in_ticks());
        });
        verdicts
    };
    assert_eq!(verdicts("19.5 ms"), [true, true]);
    assert_eq!(verdicts("19 ms"), [false, true]);
    each_claim(&sealed_in("20 ms"), lasting, |asked| {
        asked.in_ticks();
    });
}

#[test]
fn what_is_counted_is_counted_alike_in_ticks() {
    let counting = |monitor: &Monitor| matches!(monitor, Monitor::MoreThan { .. });
    let mut verdicts = Vec::new();
    each_claim(&sealed_in("20 ms"), counting, |asked| {
        verdicts.push(asked.same_verdict_in_ticks());
    });
    assert_eq!(verdicts, [false, false]);
}

/// A lockout and its breaker with their times cut short, so that there are few ticks.
fn short_lockout() -> String {
    include_str!("export/lockout.kdl")
        .replace("300 to 800 ms", "4 to 8 ms")
        .replace("45 to 60 ms", "10 to 14 ms")
        .replace("22 to 28 ms", "6 to 8 ms")
        .replace("8 to 12 ms", "2 to 3 ms")
        .replace("6 to 10 ms", "2 to 3 ms")
        .replace("3 to 8 ms before touch", "1 to 2 ms before touch")
        .replace("2 to 6 ms after parting", "1 to 2 ms after parting")
        .replace("10 to 5 ms before touch", "4 to 3 ms before touch")
        .replace("4 to 10 ms after parting", "2 to 3 ms after parting")
        .replace("8 to 16 ms", "4 to 6 ms")
        .replace("10 to 18 ms", "3 to 5 ms")
}

#[test]
fn a_lockout_and_its_breaker_are_counted_alike_in_ticks() {
    let scheme = scheme(&short_lockout().replace("may \"86 reset\"", ""));
    let monitor = Monitor::Holds { what: nothing(&scheme) };
    as_drawn(&scheme, &monitor, |asked| asked.in_ticks());
    let closed = Monitor::Holds { what: all(&scheme, &[("86", 1), ("52", 1)]) };
    as_drawn(&scheme, &closed, |asked| asked.same_verdict_in_ticks());
}

#[test]
fn a_lockout_reset_by_hand_starts_its_next_move_anew() {
    let scheme = scheme(&short_lockout());
    let monitor = Monitor::Holds { what: nothing(&scheme) };
    as_drawn(&scheme, &monitor, |asked| asked.in_ticks());
}

/// The race of 52Y with the breaker, within times that let it win and within such that don't.
#[test]
fn an_anti_pump_holds_or_fails_in_ticks_as_by_zones() {
    let text = include_str!("export/anti-pump-race.kdl");
    for slowest in [6, 14] {
        let scheme = scheme(&text.replace("{slowest}", &slowest.to_string()));
        let machine = Machine::new(&scheme).unwrap();
        let dependencies = Dependencies::new(&machine);
        let starts = starts(&machine);
        let all = questions(&scheme);
        let twice = |monitor: &&Monitor| matches!(monitor, Monitor::ClosesTwice { .. });
        let monitor = all.iter().filter_map(|it| it.monitor.as_ref()).find(twice).unwrap();
        let ladder = dependencies.ladder(monitor);
        let name = format!("52Y up to {slowest} ms");
        let scope = ladder.last().unwrap();
        let asked = Asked { name: &name, machine: &machine, scope, monitor, starts: &starts };
        assert_eq!(asked.same_verdict_in_ticks(), slowest == 6);
        if slowest == 6 {
            asked.in_ticks();
        }
    }
}

#[test]
fn every_claim_of_an_example_has_a_model_or_a_reason() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../examples/quillmere/scheme.kdl");
    let scheme = fiftytwo_scheme::read_path(std::path::Path::new(path)).scheme.unwrap();
    for exported in export::all(&scheme).unwrap() {
        for made in [&exported.any_order, &exported.within_tolerances] {
            match made {
                Ok(model) => assert!(model.text.contains("active proctype")),
                Err(refused) => assert!(refused.0.len() > 20, "{refused}"),
            }
        }
    }
}

#[test]
fn what_a_model_does_not_say_is_refused_in_words() {
    let pairs = [
        (
            r#"contact "a1" closed-when="picked up""#,
            r#"contact "a1" closed-when="picked up" bounce="3 ms""#,
            "K1 a1 bounces",
        ),
        (
            r#"button "PB1" "Start""#,
            r#"button "PB1" "Start" stays="50 ms""#,
            "PB1 stays for a time",
        ),
    ];
    for (piece, instead, why) in pairs {
        let text = include_str!("peers/seal-in.kdl");
        assert!(text.contains(piece), "{piece}");
        let scheme = scheme(&text.replacen(piece, instead, 1));
        let monitor = Monitor::Holds { what: all(&scheme, &[("K1", 1)]) };
        let machine = Machine::new(&scheme).unwrap();
        let scope = Scope::whole(&machine);
        for form in [Form::AnyOrder, Form::WithinTolerances] {
            let refused =
                model(&machine, &scope, &monitor, &[machine.drawn()], form, "seal-in").unwrap_err();
            assert!(refused.0.contains(why), "{refused}");
        }
    }
}
