//! What noisy copies say of the statistics.

use crate::registration::Document;
use crate::report::number::fixed;
use crate::report::words::wrap;

/// The section, where copies were drawn.
pub(super) fn simulation(out: &mut String, document: &Document) {
    let Some(s) = &document.simulation else {
        return;
    };
    out.push_str(&format!(
        "\nDo these figures hold? {} noisy copies of these readings, drawn from the stated u\n",
        s.copies
    ));
    let percent = |share: f64, decimals: usize| format!("{} %", fixed(100.0 * share, decimals));
    let mut say = |text: String| out.push_str(&wrap("  ", 4, &text));
    if let Some(held) = s.held {
        let least = s.parameters.iter().min_by(|a, b| a.held.total_cmp(&b.held));
        let least = least.map_or(String::new(), |p| {
            format!(" (least: {} {})", p.name, percent(p.held, 1))
        });
        say(format!(
            "The 95 % intervals of the values found held the truth in {}{least}.",
            percent(held, 1)
        ));
    }
    if let Some(held) = s.tip_held {
        say(format!(
            "The tip lay within its 95 % radius in {} (play of the axes left out).",
            percent(held, 1)
        ));
    }
    say(format!(
        "Good readings were called suspect in {} (meant: 0.1 %); the test of all together failed in {} \
         (meant: 0.1 %).",
        percent(s.false_suspects, 2),
        percent(s.global_failures, 2)
    ));
    if let Some(found) = s.found {
        say(format!(
            "An error of the smallest noticeable size was found in {} of {} tries (meant: 80 %).",
            percent(found, 1),
            s.spoilt
        ));
    }
    if s.failed > 0 {
        say(format!("{} copies could not be solved.", s.failed));
    }
    if document.readings.iter().any(|r| r.suspect) || document.p_value.is_some_and(|p| p < 0.001) {
        say(
            "That would be so if nothing but the stated errors were in the readings. Here some contradict \
             each other: first clear those."
                .to_owned(),
        );
        return;
    }
    // Three and a half standard deviations of a share of so many copies: the worst of some dozens.
    let slack = |share: f64| 3.5 * (share * (1.0 - share) / s.copies.max(1) as f64).sqrt();
    let held = s.parameters.iter().chain(&s.points);
    let off = held.clone().any(|p| (p.held - 0.95).abs() > slack(0.95))
        || s.found.is_some_and(|f| (f - 0.8).abs() > 0.01 + slack(0.8))
        || (s.global_failures - 0.001).abs() > 0.001 + slack(0.001);
    say(match off {
        false => "That is what is promised: on this cell the stated uncertainties carry through.".to_owned(),
        true => "Some shares are off by more than chance: on this cell the law is bent too much for them; \
                 trust those figures less."
            .to_owned(),
    });
}
