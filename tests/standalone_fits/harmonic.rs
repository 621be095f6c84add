use notchpin::fit::standalone::Approach;
use notchpin::fit::standalone::harmonic::HarmonicError;
use notchpin::fit::standalone::harmonic::HarmonicModel;
use notchpin::fit::standalone::harmonic::HarmonicRow;
use notchpin::fit::standalone::harmonic::fit;

use crate::support::cases;
use crate::support::close;
use crate::support::near;
use crate::support::num;
use crate::support::nums;

fn row(degrees: f64, value: f64) -> HarmonicRow {
    HarmonicRow {
        angle: degrees.to_radians(),
        value,
        approach: Approach::Unknown,
        weight: 1.0,
    }
}

#[test]
fn generated_harmonics() {
    for case in cases("generated/harmonic_fits.json", 20) {
        let name = case["name"].as_str().unwrap();
        let slope = case["kind"] == "harmonic_with_slope";
        let rows: Vec<HarmonicRow> = nums(&case["theta_deg"])
            .into_iter()
            .zip(nums(&case["y"]))
            .map(|(t, y)| row(t, y))
            .collect();
        let found = fit(
            &rows,
            HarmonicModel {
                slope,
                reversal: false,
            },
        )
        .unwrap_or_else(|e| panic!("{name}: {e}"));
        let expected = &case["expected"];
        let size = rows.iter().map(|r| r.value.abs()).fold(0.0, f64::max);
        // The file's slope is per degree.
        let unit = [1.0, 1.0, 1.0, 1f64.to_radians()];
        for (i, p) in nums(&expected["params"]).into_iter().enumerate() {
            near(
                &format!("{name} parameter {i}"),
                found.lsq.params[i] * unit[i],
                p,
                1e-11 * size,
            );
        }
        near(
            &format!("{name} amplitude"),
            found.amplitude,
            num(&expected["amplitude"]),
            1e-11 * size,
        );
        near(
            &format!("{name} phase"),
            found.phase.unwrap().to_degrees(),
            num(&expected["phase_deg"]),
            1e-11 * 180.0 * size / found.amplitude,
        );
        assert_eq!(found.lsq.dof as f64, num(&expected["dof"]), "{name}");
        if found.lsq.dof > 0 {
            for (i, sd) in nums(&expected["sd"]).into_iter().enumerate() {
                close(
                    &format!("{name} sd {i}"),
                    found.lsq.sd(i).unwrap() * unit[i],
                    sd,
                    1e-8,
                );
            }
            close(
                &format!("{name} amplitude sd"),
                found.amplitude_sd.unwrap(),
                num(&expected["amplitude_sd"]),
                1e-8,
            );
            close(
                &format!("{name} phase sd"),
                found.phase_sd.unwrap().to_degrees(),
                num(&expected["phase_sd_deg"]),
                1e-8,
            );
        }
    }
}

/// offset 3, cos 2, sin −1, lost motion 0.5 put in; the same come out.
#[test]
fn reversal_term() {
    let rows: Vec<HarmonicRow> = (0..8)
        .flat_map(|k| [(k, Approach::Rising), (k, Approach::Falling)])
        .map(|(k, approach)| {
            let angle = f64::from(k) * std::f64::consts::FRAC_PI_4;
            let value = 3.0 + 2.0 * angle.cos() - angle.sin() - approach.sign() * 0.25;
            HarmonicRow {
                angle,
                value,
                approach,
                weight: 1.0,
            }
        })
        .collect();
    let found = fit(
        &rows,
        HarmonicModel {
            slope: false,
            reversal: true,
        },
    )
    .unwrap();
    near("offset", found.offset, 3.0, 1e-14);
    near("cos", found.cos, 2.0, 1e-14);
    near("sin", found.sin, -1.0, 1e-14);
    near("lost motion", found.lost_motion.unwrap(), 0.5, 1e-14);
    assert_eq!(found.slope, None);
}

#[test]
fn too_few_angles_are_named() {
    let rows = [
        row(0.0, 1.0),
        row(180.0, 2.0),
        row(0.0, 1.1),
        row(180.0, 2.1),
    ];
    let error = fit(&rows, HarmonicModel::default()).unwrap_err();
    assert!(
        matches!(
            error,
            HarmonicError::Undetermined {
                term: "sine term",
                ..
            }
        ),
        "{error}"
    );
    let flat: Vec<HarmonicRow> = (0..4).map(|k| row(90.0 * f64::from(k), 0.0)).collect();
    assert_eq!(fit(&flat, HarmonicModel::default()).unwrap().phase, None);
}
