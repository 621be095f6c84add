use std::f64::consts::PI;

use notchpin::fit::standalone::circular::CircularError;
use notchpin::fit::standalone::circular::mean;
use notchpin::units::wrap_rad as wrap;

use crate::support::cases;
use crate::support::close;
use crate::support::json;
use crate::support::near;
use crate::support::num;
use crate::support::nums;
use crate::support::printed;

#[test]
fn generated_means() {
    for case in cases("generated/circular_stats.json", 24) {
        let name = case["name"].as_str().unwrap();
        let unit = if case["unit"] == "deg" {
            1f64.to_radians()
        } else {
            1.0
        };
        let angles: Vec<f64> = nums(&case["angles"]).iter().map(|a| a * unit).collect();
        let weights = case["weights"].as_array().map(|_| nums(&case["weights"]));
        let found = mean(&angles, weights.as_deref()).unwrap_or_else(|e| panic!("{name}: {e}"));
        let expected = &case["expected"];
        // Relative to half a turn: the angles themselves carry that rounding.
        near(
            &format!("{name} mean"),
            found.mean,
            num(&expected["mean_signed"]) * unit,
            1e-12 * PI,
        );
        close(
            &format!("{name} length"),
            found.resultant_length,
            num(&expected["resultant_length"]),
            1e-12,
        );
        close(
            &format!("{name} variance"),
            found.variance,
            num(&expected["circular_variance"]),
            1e-7,
        );
        close(
            &format!("{name} sd"),
            found.sd,
            num(&expected["circular_sd"]) * unit,
            1e-7,
        );
    }
}

#[test]
fn published_means() {
    let file = json("published/circular_published.json");
    let radians = |key: &str| -> Vec<f64> {
        nums(&file[key]["angles_deg"])
            .iter()
            .map(|a| a.to_radians())
            .collect()
    };
    let found = mean(&radians("mardia"), None).unwrap();
    let (printed_1, again_1) = (&file["mardia"]["published"], &file["mardia"]["recomputed"]);
    printed(
        "Mardia mean",
        found.mean.to_degrees(),
        &printed_1["mean_deg"],
    );
    printed(
        "Mardia length",
        found.resultant_length,
        &printed_1["resultant_length"],
    );
    printed(
        "Mardia C",
        found.resultant_length * found.mean.cos(),
        &printed_1["C"],
    );
    printed(
        "Mardia S",
        found.resultant_length * found.mean.sin(),
        &printed_1["S"],
    );
    close(
        "Mardia mean",
        found.mean.to_degrees(),
        num(&again_1["mean_deg"]),
        1e-13,
    );

    let found = mean(&radians("jammalamadaka"), None).unwrap();
    let (printed_2, again_2) = (
        &file["jammalamadaka"]["published"],
        &file["jammalamadaka"]["recomputed"],
    );
    printed("mean", found.mean.to_degrees(), &printed_2["mean_deg"]);
    printed("variance", found.variance, &printed_2["circular_variance"]);
    close("sd", found.sd, num(&again_2["circular_sd_rad"]), 1e-13);
}

#[test]
fn angles_that_cancel_have_no_mean() {
    let error = mean(&[0.0, PI], None).unwrap_err();
    assert!(
        matches!(error, CircularError::NoDirection { .. }),
        "{error}"
    );
    assert!(mean(&[], None).is_err());
    assert!(mean(&[f64::NAN], None).is_err());
    assert!(mean(&[1.0], Some(&[0.0])).is_err());
}

#[test]
fn wrap_stays_in_its_range() {
    for k in -20..=20 {
        for small in [0.0, 1e-17, -1e-17, 1e-9, -1e-9, 1.0] {
            let angle = f64::from(k) * PI + small;
            let w = wrap(angle);
            assert!((-PI..PI).contains(&w), "{angle} gives {w}");
            assert!(
                ((w - angle) / (2.0 * PI)).fract().abs() < 1e-9
                    || ((w - angle) / (2.0 * PI)).fract().abs() > 1.0 - 1e-9
            );
        }
    }
    assert_eq!(wrap(-1e-18), -1e-18);
}
