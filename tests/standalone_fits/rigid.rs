use nalgebra::Matrix3;
use nalgebra::Vector3;
use notchpin::fit::standalone::checks::InputError;
use notchpin::fit::standalone::rigid::Handedness;
use notchpin::fit::standalone::rigid::RigidError;
use notchpin::fit::standalone::rigid::Set;
use notchpin::fit::standalone::rigid::fit;
use notchpin::fit::standalone::rigid::fit_about_z;
use serde_json::Value;

use crate::support::cases;
use crate::support::json;
use crate::support::mat3;
use crate::support::near;
use crate::support::num;
use crate::support::nums;
use crate::support::points;
use crate::support::vec3;

struct Case {
    name: String,
    source: Vec<Vector3<f64>>,
    target: Vec<Vector3<f64>>,
    weights: Option<Vec<f64>>,
    expected: Value,
}

fn kabsch(dim: u64) -> Vec<Case> {
    let of_dim = cases("generated/kabsch.json", 40)
        .into_iter()
        .filter(|c| c["dim"].as_u64() == Some(dim));
    of_dim
        .map(|c| Case {
            name: c["name"].as_str().unwrap().to_owned(),
            source: points(&c["source"]),
            target: points(&c["target"]),
            weights: c["weights"].as_array().map(|_| nums(&c["weights"])),
            expected: c["expected"].clone(),
        })
        .collect()
}

fn expected_handedness(case: &Case) -> Option<Handedness> {
    let avoided = case.expected["reflection_avoided"].as_bool()?;
    Some(if avoided {
        Handedness::Mirrored
    } else {
        Handedness::Same
    })
}

#[test]
fn generated_frames_in_space() {
    let all = kabsch(3);
    assert_eq!(all.len(), 28);
    let mut unique = 0;
    for case in &all {
        let (name, e) = (&case.name, &case.expected);
        let s = nums(&e["singular_values"]);
        match fit(&case.source, &case.target, case.weights.as_deref()) {
            Ok(found) => {
                assert_eq!(e["unique"], true, "{name}");
                unique += 1;
                near(
                    &format!("{name} rotation"),
                    (found.rotation - mat3(&e["rotation"])).amax(),
                    0.0,
                    1e-10,
                );
                near(
                    &format!("{name} translation"),
                    (found.translation - vec3(&e["translation"])).amax(),
                    0.0,
                    1e-8,
                );
                near(&format!("{name} rmsd"), found.rmsd, num(&e["rmsd"]), 1e-9);
                near(
                    &format!("{name} gap"),
                    found.relative_gap,
                    num(&e["relative_gap"]),
                    1e-12,
                );
                near(
                    &format!("{name} source centroid"),
                    (found.source_centroid - vec3(&e["source_centroid"])).amax(),
                    0.0,
                    1e-9,
                );
                near(
                    &format!("{name} target centroid"),
                    (found.target_centroid - vec3(&e["target_centroid"])).amax(),
                    0.0,
                    1e-9,
                );
                for i in 0..3 {
                    near(
                        &format!("{name} singular value {i}"),
                        found.singular_values[i],
                        s[i],
                        1e-13 * s[0],
                    );
                }
                assert_eq!(
                    found.handedness,
                    expected_handedness(case).unwrap_or(Handedness::Undecided),
                    "{name}"
                );
                let covariance = mat3(&e["unit_rotation_covariance"]);
                let off = (found.rotation_covariance().unwrap() - covariance).amax();
                near(
                    &format!("{name} covariance"),
                    off,
                    0.0,
                    1e-9 * covariance.amax(),
                );
                near(
                    &format!("{name} centroid variance"),
                    found.centroid_variance(),
                    num(&e["unit_centroid_variance"]),
                    1e-14,
                );
            }
            Err(RigidError::Collinear {
                source_axis,
                target_axis,
                rmsd,
                ..
            }) => {
                let along = &e["determined_direction"];
                assert_eq!(e["unique"], false, "{name}");
                near(&format!("{name} rmsd"), rmsd, num(&e["rmsd"]), 1e-9);
                let (a, b) = (vec3(&along["source"]), vec3(&along["target"]));
                let sign = source_axis.dot(&a).signum();
                near(
                    &format!("{name} source axis"),
                    (source_axis * sign - a).amax(),
                    0.0,
                    1e-10,
                );
                near(
                    &format!("{name} target axis"),
                    (target_axis * sign - b).amax(),
                    0.0,
                    1e-10,
                );
            }
            Err(RigidError::Coincident { set, rmsd, .. }) => {
                assert!(name.contains("coincident") && set == Set::Source, "{name}");
                near(&format!("{name} rmsd"), rmsd, num(&e["rmsd"]), 1e-9);
            }
            Err(other) => panic!("{name}: {other}"),
        }
    }
    assert_eq!(
        unique,
        all.iter().filter(|c| c.expected["unique"] == true).count()
    );
}

#[test]
fn generated_frames_about_z() {
    let all = kabsch(2);
    assert_eq!(all.len(), 12);
    for case in &all {
        let (name, e) = (&case.name, &case.expected);
        let found = fit_about_z(&case.source, &case.target, case.weights.as_deref())
            .unwrap_or_else(|e| panic!("{name}: {e}"));
        let (sin, cos) = found.yaw.sin_cos();
        for (i, row) in [[cos, -sin], [sin, cos]].iter().enumerate() {
            for (j, entry) in row.iter().enumerate() {
                near(
                    &format!("{name} rotation"),
                    *entry,
                    num(&e["rotation"][i][j]),
                    1e-10,
                );
            }
        }
        near(
            &format!("{name} translation"),
            (found.translation - vec3(&e["translation"])).amax(),
            0.0,
            1e-8,
        );
        near(&format!("{name} rmsd"), found.rmsd, num(&e["rmsd"]), 1e-9);
        near(
            &format!("{name} gap"),
            found.relative_gap,
            num(&e["relative_gap"]),
            1e-12,
        );
        let s = nums(&e["singular_values"]);
        for i in 0..2 {
            near(
                &format!("{name} singular value {i}"),
                found.singular_values[i],
                s[i],
                1e-13 * s[0],
            );
        }
        assert_eq!(
            found.handedness,
            expected_handedness(case).unwrap_or(Handedness::Undecided),
            "{name}"
        );
    }
}

/// The published problem minimises over Q from the right, without translation: centred on the origin by adding each
/// point's opposite, which leaves Q and doubles the squared minimum. Its optimum is a rotation.
#[test]
fn golub_van_loan() {
    let file = json("published/golub_vanloan_procrustes.json");
    let both = |key: &str| -> Vec<Vector3<f64>> {
        let p = points(&file[key]);
        p.iter().map(|p| -p).chain(p.iter().copied()).collect()
    };
    let found = fit_about_z(&both("A"), &both("B"), None).unwrap();
    let q = &file["recomputed"]["Q"];
    // Rows are turned from the right: Q = Rᵀ.
    near("diagonal", found.yaw.cos(), num(&q[0][0]), 1e-13);
    near("off diagonal", found.yaw.sin(), num(&q[0][1]), 1e-13);
    near(
        "minimum",
        found.rmsd * 2.0,
        num(&file["recomputed"]["minimum"]),
        1e-13,
    );
    near("printed diagonal", found.yaw.cos(), 0.9999, 0.5e-4);
    near(
        "printed off diagonal",
        found.yaw.sin().abs(),
        0.0126,
        0.5e-4,
    );
    near("printed minimum", found.rmsd * 2.0, 0.4661, 0.5e-4);
}

/// The reflection case: rotation as published, translation and error for the scale held at 1.
#[test]
fn umeyama_with_scale_one() {
    let file = json("published/umeyama_1991.json");
    let (source, target) = (
        points(&file["source_points"]),
        points(&file["target_points"]),
    );
    let found = fit_about_z(&source, &target, None).unwrap();
    assert_eq!(found.handedness, Handedness::Mirrored);
    let r = &file["decimal"]["R"];
    near("cos", found.yaw.cos(), num(&r[0][0]), 1e-15);
    near("sin", found.yaw.sin(), num(&r[1][0]), 1e-15);
    let rigid = &file["rigid_variant"];
    near(
        "t",
        (found.translation - vec3(&rigid["t"])).amax(),
        0.0,
        1e-14,
    );
    near(
        "mean square",
        found.rmsd.powi(2),
        num(&rigid["mean_square_error"]),
        1e-14,
    );
}

#[test]
fn degenerate_sets_are_named() {
    let p = |x: f64, y: f64, z: f64| Vector3::new(x, y, z);
    let triangle = [p(0.0, 0.0, 0.0), p(100.0, 0.0, 0.0), p(0.0, 80.0, 0.0)];
    let line = [p(1.0, 1.0, 1.0), p(3.0, 5.0, 7.0), p(4.0, 7.0, 10.0)];
    let heap = [p(1e5, 7.0, -3.0); 3];

    assert_eq!(
        fit(&triangle[..1], &line[..1], None),
        Err(RigidError::OnePoint {
            shift: p(1.0, 1.0, 1.0)
        })
    );
    assert!(matches!(
        fit(&heap, &triangle, None),
        Err(RigidError::Coincident {
            set: Set::Source,
            pairs: 3,
            ..
        })
    ));
    assert!(matches!(
        fit(&triangle, &heap, None),
        Err(RigidError::Coincident {
            set: Set::Target,
            ..
        })
    ));
    assert!(matches!(
        fit(&line, &triangle, None),
        Err(RigidError::Collinear {
            set: Set::Source,
            ..
        })
    ));
    assert!(matches!(
        fit(&triangle, &line, None),
        Err(RigidError::Collinear {
            set: Set::Target,
            ..
        })
    ));
    assert!(matches!(
        fit(&triangle[..2], &triangle[1..], None),
        Err(RigidError::Collinear { pairs: 2, .. })
    ));

    // A cube's corner and its point reflection: every proper rotation by half a turn about any axis is equally bad.
    let corner = [
        p(1.0, 0.0, 0.0),
        p(-1.0, 0.0, 0.0),
        p(0.0, 1.0, 0.0),
        p(0.0, -1.0, 0.0),
        p(0.0, 0.0, 1.0),
        p(0.0, 0.0, -1.0),
    ];
    let opposite: Vec<Vector3<f64>> = corner.iter().map(|c| -c).collect();
    assert!(matches!(
        fit(&corner, &opposite, None),
        Err(RigidError::NotUnique { .. })
    ));
    // Seen from above, the mirror image of a square leaves the yaw open.
    let mirrored: Vec<Vector3<f64>> = corner[..4].iter().map(|c| p(c.x, -c.y, 0.0)).collect();
    assert!(matches!(
        fit_about_z(&corner[..4], &mirrored, None),
        Err(RigidError::NotUnique { .. })
    ));
    // An upright line is one point from above.
    let upright = [p(2.0, 3.0, 0.0), p(2.0, 3.0, 9.0)];
    assert!(matches!(
        fit_about_z(&upright, &triangle[..2], None),
        Err(RigidError::Coincident {
            set: Set::Source,
            ..
        })
    ));

    assert!(matches!(
        fit(&triangle, &line[..2], None),
        Err(RigidError::Input(InputError::LengthsDiffer { .. }))
    ));
    assert!(matches!(
        fit(&[], &[], None),
        Err(RigidError::Input(InputError::TooFew { .. }))
    ));
    let mut bad = triangle;
    bad[1].z = f64::NAN;
    let Err(RigidError::Input(InputError::NotFinite { what, row, value })) =
        fit(&triangle, &bad, None)
    else {
        panic!()
    };
    assert!(what == "a target coordinate" && row == 1 && value.is_nan());
    let huge = triangle.map(|t| t * 1e200);
    assert!(matches!(
        fit(&huge, &huge, None),
        Err(RigidError::Input(InputError::OutOfRange { .. }))
    ));
    let weights = [1.0, f64::INFINITY, 1.0];
    assert!(matches!(
        fit(&triangle, &triangle, Some(&weights)),
        Err(RigidError::Input(InputError::Weight { row: 1, .. }))
    ));
}

/// A mirrored set is answered by the best proper rotation, and flagged.
#[test]
fn mirrored_sets_are_flagged() {
    let source: Vec<Vector3<f64>> = [
        [0.0, 0.0, 0.0],
        [100.0, 0.0, 5.0],
        [0.0, 80.0, -7.0],
        [30.0, 20.0, 60.0],
    ]
    .iter()
    .map(|p| Vector3::from(*p))
    .collect();
    let target: Vec<Vector3<f64>> = source
        .iter()
        .map(|p| Vector3::new(-p.x, p.y, p.z))
        .collect();
    let found = fit(&source, &target, None).unwrap();
    assert_eq!(found.handedness, Handedness::Mirrored);
    near("det", found.rotation.determinant(), 1.0, 1e-14);
    near(
        "orthogonal",
        (found.rotation.transpose() * found.rotation - Matrix3::identity()).amax(),
        0.0,
        1e-14,
    );
    assert!(found.rmsd > 10.0);
}
