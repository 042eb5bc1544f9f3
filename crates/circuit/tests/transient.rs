//! Currents of coils in time against published values. "Textbook": the chapter on time constants of
//! an open textbook, its printed tables.
#![allow(clippy::unwrap_used, reason = "a test that finds nothing has failed")]
#![allow(clippy::disallowed_methods, reason = "compared within tolerances far above a digit")]
#![allow(clippy::approx_constant, reason = "published digits stand as they are printed")]

use fiftytwo_circuit::curve::{Characteristic, Conducts};
use fiftytwo_circuit::network::{Branch, Network};
use fiftytwo_circuit::transient::{Clamp, Coil, Course, Feed, Joined, TransientError};

fn fed(volt: f64, ohm: f64) -> Joined {
    Joined::Fed(Feed { volt, ohm })
}

fn assert_printed(found: f64, printed: &str) {
    let decimals = printed.split_once('.').map_or(0, |(_, after)| after.len());
    let half = 0.5 * 10_f64.powi(-i32::try_from(decimals).unwrap());
    let off = (found - printed.parse::<f64>().unwrap()).abs();
    assert!(off <= half * 1.000_001, "{found} where {printed} is printed");
}

/// The volts of the inductance alone, as the textbook prints them.
fn inductive(course: &Course, ohm: f64, t: f64) -> f64 {
    course.volts(t) - ohm * course.current(t)
}

#[test]
fn a_coil_rises_as_the_textbook_prints() {
    // Textbook: 15 V, 1 ohm, 1 H.
    let course = Course::new(Coil { ohm: 1.0, henry: 1.0 }, 0.0, &[(0.0, fed(15.0, 0.0))]).unwrap();
    for (t, ampere, volt) in [
        (0.5, "5.902", "9.098"),
        (1.0, "9.482", "5.518"),
        (2.0, "12.97", "2.030"),
        (3.0, "14.25", "0.747"),
        (3.5, "14.547", "0.453"),
        (4.0, "14.73", "0.275"),
        (5.0, "14.90", "0.101"),
    ] {
        assert_printed(course.current(t), ampere);
        assert_printed(inductive(&course, 1.0, t), volt);
    }
    // The share reached after so many time constants, 1 - exp(-n).
    for (n, share) in [(0.5, 0.3934693403), (1.0, 0.6321205588), (3.0, 0.9502129316)] {
        assert!((course.current(n) / 15.0 - share).abs() < 1e-10);
        assert!((course.reaches(15.0 * share, 0.0).unwrap() - n).abs() < 1e-8);
    }
    assert_eq!(course.reaches(15.1, 0.0), None);
}

#[test]
fn a_contact_that_shorts_a_resistor_changes_the_end_value_and_the_time_constant() {
    // Textbook: 15 V, 2 ohm + 1 ohm + 1 H; the 1 ohm is shorted at 0 s: 5 A to 7.5 A, 0.5 s.
    let coil = Coil { ohm: 2.0, henry: 1.0 };
    let course = Course::new(coil, 0.0, &[(-30.0, fed(15.0, 1.0)), (0.0, fed(15.0, 0.0))]).unwrap();
    assert!((course.current(-1e-9) - 5.0).abs() < 1e-6);
    for (t, ampere, volt) in [
        (0.1, "5.453", "4.094"),
        (0.25, "5.984", "3.033"),
        (0.5, "6.580", "1.839"),
        (1.0, "7.162", "0.677"),
        (2.0, "7.454", "0.092"),
        (3.0, "7.494", "0.012"),
    ] {
        assert_printed(course.current(t), ampere);
        assert_printed(inductive(&course, 2.0, t), volt);
    }
}

/// 25 ohm, 1 H, 5 A from 125 V: tau 40 ms.
fn let_go(clamp: Clamp) -> Course {
    let coil = Coil::with_time_constant(25.0, 0.04);
    Course::new(coil, 5.0, &[(0.0, Joined::LetGo(clamp))]).unwrap()
}

#[test]
fn a_clamp_lets_a_coil_go_the_sooner_the_more_volts_it_takes() {
    // t / tau = ln((1 + k) / (f + k)) to fall to the fraction f with a constant k = clamp volts /
    // (start amperes x ohm): values worked out from the formula of any textbook.
    for (k, f, over_tau) in [
        (0.0, 0.5, 0.6931472),
        (0.0, 0.1, 2.3025851),
        (0.0, 0.05, 2.9957323),
        (0.1, 0.1, 1.7047481),
        (0.5, 0.0, 1.0986123),
        (1.0, 0.1, 0.5978370),
        (2.0, 0.1, 0.3566749),
        (10.0, 0.1, 0.0853598),
    ] {
        let then = let_go(Clamp::varistor(125.0 * k)).reaches(5.0 * f, 0.0).unwrap();
        assert!((then / 0.04 - over_tau).abs() < 1e-7, "{k} {f}: {then}");
    }
    let to_a_tenth = |clamp| let_go(clamp).reaches(0.5, 0.0).unwrap() * 1e3;
    assert_printed(to_a_tenth(Clamp::diode(0.0, 0.0)), "92.10");
    assert_printed(to_a_tenth(Clamp::diode(0.7, 0.0)), "90.147");
    assert_printed(to_a_tenth(Clamp::resistor(50.0)), "30.701");
    // These two are also what ngspice 39 says of the same circuit.
    assert_printed(to_a_tenth(Clamp::varistor(250.0)), "14.267");
    let varistor = let_go(Clamp::varistor(250.0));
    assert_printed(varistor.reaches(0.0, 0.0).unwrap() * 1e3, "16.2186");
    assert_eq!((varistor.current(0.02), varistor.volts(0.02)), (0.0, 0.0));
    assert!((varistor.volts(0.01) + 250.0).abs() < 1e-9);
}

#[test]
fn a_bent_characteristic_is_the_straight_ones_one_after_the_other() {
    // 50 ohm from 2 A up, 100 V below: by hand, two falls in a row.
    let clamp = Clamp::curve(vec![(0.0, 100.0), (2.0, 100.0), (4.0, 200.0)], true).unwrap();
    let coil = Coil::with_time_constant(25.0, 0.04);
    let course = Course::new(coil, -5.0, &[(0.0, Joined::LetGo(clamp))]).unwrap();
    let first = 1.0 / 75.0 * (5.0_f64 / 2.0).ln();
    let second = 0.04 * ((2.0 + 4.0) / (0.5_f64 + 4.0)).ln();
    assert!((course.reaches(-2.0, 0.0).unwrap() - first).abs() < 1e-15);
    assert!((course.reaches(-0.5, 0.0).unwrap() - first - second).abs() < 1e-15);
    assert!((course.volts(first / 2.0) + 50.0 * course.current(first / 2.0)).abs() < 1e-9);
    assert_eq!(course.current(1.0), 0.0);
}

#[test]
fn a_parts_characteristic_takes_the_current_over_as_its_points_say() {
    let to_a_tenth =
        |part: &Characteristic| let_go(Clamp::of(part).unwrap()).reaches(0.5, 0.0).unwrap();
    let straight = |clamp| let_go(clamp).reaches(0.5, 0.0).unwrap();
    let close = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
    close(to_a_tenth(&Characteristic::drop(0.7, 0.05)), straight(Clamp::diode(0.7, 0.05)));
    close(to_a_tenth(&Characteristic::resistance(50.0)), straight(Clamp::resistor(50.0)));
    let either = Clamp::of(&Characteristic::clamp(250.0, 2.0)).unwrap();
    assert_eq!(either, Clamp::curve(vec![(0.0, 250.0), (1.0, 252.0)], true).unwrap());
    let full = Characteristic::through(&[(1.0, 1.0), (2.0, 1.0)], Conducts::OneWay).unwrap();
    assert_eq!(Clamp::of(&full), Err(TransientError::Points), "takes over 1 A at most");
}

#[test]
fn a_trip_coil_with_a_junction_across_it_follows_a_circuit_simulator() {
    // 125 V behind 14 milliohm and a contact of 10 milliohm that closes at 1 ms and opens at 100 ms,
    // each half a microsecond into a ramp of one; 40 ohm, 0.4 H; diode of 1 nA, n 1.8, 50 milliohm.
    // ngspice 39 at steps of 1 us. Its own answer moves by 3e-6 (current) and 2e-4 (volts at 1 mA)
    // when the step goes from 100 us to 1 us; the closed form is exact at 20 ms.
    const SHUT: f64 = 1.0005e-3;
    const OPENED: f64 = 100.0015e-3;
    let mut network = Network::new(4);
    network.source(1, 0, 125.0, 0.014);
    network.switch(1, 2, true);
    network.resistor(2, 3, 0.01);
    let feed = Feed::seen(&network, 3, 0).unwrap().unwrap();
    assert!((feed.volt - 125.0).abs() < 1e-12 && (feed.ohm - 0.024).abs() < 1e-12);
    let clamp = Clamp::junction(1e-9, 1.8 * 0.025_864_9, 0.05, 125.0 / 40.0).unwrap();
    let coil = Coil { ohm: 40.0, henry: 0.4 };
    let course =
        Course::new(coil, 0.0, &[(SHUT, Joined::Fed(feed)), (OPENED, Joined::LetGo(clamp))])
            .unwrap();
    let close = |found: f64, theirs: f64, within: f64| {
        assert!(((found - theirs) / theirs).abs() < within, "{found} {theirs}");
    };
    close(
        course.current(0.02),
        125.0 / 40.024 * -((SHUT - 0.02) * 40.024 / 0.4_f64).exp_m1(),
        1e-12,
    );
    close(course.current(0.02), 2.656518, 1e-5);
    close(course.current(0.11), 1.131961, 2e-5);
    close(course.current(0.13), 0.1332398, 5e-5);
    close(course.volts(0.15), -0.6568402, 1e-4);
}

#[test]
fn what_has_no_answer_is_said() {
    let coil = Coil { ohm: 40.0, henry: 0.4 };
    let course = |coil, start, joined| Course::new(coil, start, &[(0.0, joined)]).unwrap_err();
    let blocked = course(coil, -1.0, Joined::LetGo(Clamp::diode(0.7, 0.0)));
    assert_eq!(blocked, TransientError::Blocked { at: 0.0 });
    let no_coil = Coil { ohm: 0.0, henry: 0.4 };
    assert_eq!(course(no_coil, 0.0, fed(1.0, 0.0)), TransientError::Invalid);
    assert_eq!(course(coil, 0.0, fed(1.0, -1.0)), TransientError::Invalid);
    let backwards = [(1.0, fed(1.0, 0.0)), (0.0, fed(1.0, 0.0))];
    assert_eq!(Course::new(coil, 0.0, &backwards).unwrap_err(), TransientError::Invalid);
    assert_eq!(Clamp::curve(vec![(0.0, 5.0), (1.0, 4.0)], false), Err(TransientError::Points));
    assert_eq!(Clamp::junction(0.0, 0.05, 0.0, 1.0), Err(TransientError::Points));
    let mut network = Network::new(3);
    network.source(1, 0, 125.0, 0.0);
    network.switch(1, 2, false);
    assert_eq!(Feed::seen(&network, 2, 0), Ok(None), "cut off");
    network.add(Branch::Diode { anode: 1, cathode: 2 });
    assert_eq!(Feed::seen(&network, 2, 0), Err(TransientError::Bent { branch: 2 }));
}
