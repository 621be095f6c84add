use nalgebra::Vector2;
use nalgebra::Vector3;
use notchpin::fit::standalone::circle::CircleError;
use notchpin::fit::standalone::circle::fit;
use notchpin::fit::standalone::circle::fit_in_space;
use notchpin::fit::standalone::plane;
use notchpin::fit::standalone::plane::PlaneError;

use crate::support::cases;
use crate::support::close;
use crate::support::json;
use crate::support::near;
use crate::support::num;
use crate::support::nums;
use crate::support::points;
use crate::support::printed;
use crate::support::vec3;

fn flat(points: &[Vector3<f64>]) -> Vec<Vector2<f64>> {
    points.iter().map(|p| p.xy()).collect()
}

#[test]
fn generated_circles_in_the_plane() {
    for case in cases("generated/circle2d.json", 20) {
        let name = case["name"].as_str().unwrap();
        let found = fit(&flat(&points(&case["points"]))).unwrap_or_else(|e| panic!("{name}: {e}"));
        let e = &case["expected"];
        let radius = num(&e["radius"]);
        let (centre, kasa) = (vec3(&e["centre"]).xy(), vec3(&e["kasa_centre"]).xy());
        near(
            &format!("{name} centre"),
            (found.centre - centre).norm(),
            0.0,
            1e-9 * radius,
        );
        close(&format!("{name} radius"), found.radius, radius, 1e-9);
        near(
            &format!("{name} algebraic centre"),
            (found.kasa_centre - kasa).norm(),
            0.0,
            1e-9 * radius,
        );
        close(
            &format!("{name} algebraic radius"),
            found.kasa_radius,
            num(&e["kasa_radius"]),
            1e-9,
        );
        close(&format!("{name} rss"), found.rss, num(&e["rss"]), 1e-8);
        close(&format!("{name} rms"), found.rms, num(&e["rms"]), 1e-8);
        close(
            &format!("{name} residual sd"),
            found.residual_sd().unwrap(),
            num(&e["residual_sd"]),
            1e-8,
        );
        for (i, sd) in nums(&e["sd"]).into_iter().enumerate() {
            close(&format!("{name} sd {i}"), found.sd().unwrap()[i], sd, 1e-8);
            for j in 0..3 {
                let c = &e["unscaled_covariance"];
                let scale = (num(&c[i][i]) * num(&c[j][j])).sqrt();
                near(
                    &format!("{name} covariance {i} {j}"),
                    found.covariance[(i, j)],
                    num(&c[i][j]),
                    1e-8 * scale,
                );
            }
        }
    }
}

#[test]
fn generated_circles_in_space() {
    for case in cases("generated/circle3d.json", 20) {
        let name = case["name"].as_str().unwrap();
        let found =
            fit_in_space(&points(&case["points"])).unwrap_or_else(|e| panic!("{name}: {e}"));
        let e = &case["expected"];
        let radius = num(&e["radius"]);
        near(
            &format!("{name} normal"),
            (found.plane.normal - vec3(&e["normal"])).norm(),
            0.0,
            1e-9,
        );
        near(
            &format!("{name} centroid"),
            (found.plane.centroid - vec3(&e["centroid"])).norm(),
            0.0,
            1e-9,
        );
        near(
            &format!("{name} centre"),
            (found.centre - vec3(&e["centre"])).norm(),
            0.0,
            1e-9 * radius,
        );
        close(&format!("{name} radius"), found.radius, radius, 1e-9);
        near(
            &format!("{name} plane rms"),
            found.plane.rms,
            num(&e["plane_rms"]),
            1e-9,
        );
        near(
            &format!("{name} radial rms"),
            found.in_plane.rms,
            num(&e["radial_rms"]),
            1e-9,
        );
        for (i, value) in nums(&e["scatter_eigenvalues"]).into_iter().enumerate() {
            close(
                &format!("{name} eigenvalue {i}"),
                found.plane.singular_values[2 - i].powi(2),
                value,
                1e-9,
            );
        }
        near(
            "x × y",
            (found.plane.x.cross(&found.plane.y) - found.plane.normal).norm(),
            0.0,
            1e-14,
        );
    }
}

#[test]
fn gander_golub_strebel() {
    let file = json("published/gander_golub_strebel_1994.json");
    let found = fit(&flat(&points(&file["points"]))).unwrap();
    let (p, r) = (&file["published"], &file["recomputed"]);
    for i in 0..2 {
        printed("centre", found.centre[i], &p["geometric_centre"][i]);
        near(
            "centre",
            found.centre[i],
            num(&r["geometric_centre"][i]),
            1e-9,
        );
        near(
            "algebraic centre",
            found.kasa_centre[i],
            num(&r["kasa_centre"][i]),
            1e-11,
        );
    }
    printed("radius", found.radius, &p["geometric_radius"]);
    near("radius", found.radius, num(&r["geometric_radius"]), 1e-9);
    close("rss", found.rss, num(&r["geometric_rss"]), 1e-11);
    near(
        "algebraic radius",
        found.kasa_radius,
        num(&r["kasa_radius"]),
        1e-11,
    );
}

#[test]
fn coope() {
    let file = json("published/coope_1993_circle.json");
    let found = fit(&flat(&points(&file["points"]))).unwrap();
    let (p, r) = (&file["published"], &file["recomputed"]);
    for i in 0..2 {
        printed(
            "linear centre",
            found.kasa_centre[i],
            &p["linear_centre"][i],
        );
        printed("centre", found.centre[i], &p["nonlinear_centre"][i]);
        near(
            "centre",
            found.centre[i],
            num(&r["nonlinear_centre"][i]),
            1e-10,
        );
    }
    printed("linear radius", found.kasa_radius, &p["linear_radius"]);
    printed("radius", found.radius, &p["nonlinear_radius"]);
    close("rss", found.rss, num(&r["nonlinear_rss"]), 1e-11);
}

#[test]
fn degenerate_points_are_named() {
    let on_line: Vec<Vector2<f64>> = (0..5)
        .map(|i| Vector2::new(f64::from(i), 0.1 + 3.0 * f64::from(i)))
        .collect();
    assert!(
        matches!(fit(&on_line), Err(CircleError::Collinear { points: 5, .. })),
        "{:?}",
        fit(&on_line)
    );
    let here = [Vector2::new(1e5, 2.0); 4];
    assert!(matches!(
        fit(&here),
        Err(CircleError::Coincident { points: 4, .. })
    ));
    let error = fit(&on_line[..2]).unwrap_err();
    assert!(error.to_string().starts_with("found 2 points"), "{error}");
    assert!(fit(&[Vector2::new(f64::NAN, 0.0); 3]).is_err());

    let up: Vec<Vector3<f64>> = (0..4)
        .map(|i| Vector3::new(1.0, 2.0, 3.0) * f64::from(i))
        .collect();
    assert!(matches!(
        fit_in_space(&up),
        Err(CircleError::Collinear { .. })
    ));
    assert!(matches!(
        plane::fit(&[up[1]; 3]),
        Err(PlaneError::Coincident { .. })
    ));
    assert!(matches!(plane::fit(&up[..2]), Err(PlaneError::Input(_))));
}

/// Three points have exactly one circle: (0, 0), (4, 0), (0, 3) the one about (2, 1.5) with radius 2.5, by hand.
#[test]
fn three_points() {
    let found = fit(&[
        Vector2::new(0.0, 0.0),
        Vector2::new(4.0, 0.0),
        Vector2::new(0.0, 3.0),
    ])
    .unwrap();
    near("x", found.centre.x, 2.0, 1e-13);
    near("y", found.centre.y, 1.5, 1e-13);
    near("radius", found.radius, 2.5, 1e-13);
    assert_eq!(found.residual_sd(), None);
}

/// Noise may make the best circle infinitely large; the fit ends in any case, and with finite numbers.
#[test]
fn nearly_straight_points_end() {
    for k in 0..14 {
        let bump = 10f64.powi(-k);
        for ups in [
            [0.0, 1.0, 0.0, 1.0, 0.0],
            [0.0, 1.0, 1.0, 1.0, 0.0],
            [1.0, 0.0, 0.0, -1.0, 1.0],
        ] {
            let points: Vec<Vector2<f64>> = ups
                .iter()
                .enumerate()
                .map(|(i, u)| Vector2::new(i as f64, bump * u))
                .collect();
            match fit(&points) {
                Ok(c) => assert!(
                    c.centre.norm().is_finite() && c.covariance.iter().all(|v| v.is_finite())
                ),
                Err(e) => assert!(!matches!(e, CircleError::Input(_)), "{e}"),
            }
        }
    }
}
