//! One slip in the whole example each. `‸` stands before the character that the message points at.

use crate::WHOLE;
use crate::read;

/// What is replaced, by what, the field that is named, words of the message.
type Slip = (
    &'static str,
    &'static str,
    &'static str,
    &'static [&'static str],
);

#[rustfmt::skip]
const SLIPS: &[Slip] = &[
    // Keys and tables that are unknown, missing or there twice.
    ("columns = 30", "‸colums = 30", "plate.colums", &["unknown key `colums`", "did you mean `columns`?"]),
    ("pitch_mm = 50.0", "‸pich_in = 2", "plate.pich_in", &["did you mean `pitch_in`?"]),
    ("yaw_deg = 0.25", "‸yaw = 0.25", "track.yaw", &["did you mean `yaw_deg`?"]),
    ("[instruments]", "[‸intruments]", "intruments", &["the file", "did you mean `instruments`?"]),
    ("[accept]", "[‸zebra]", "zebra", &["`zebra`", "`accept`", "remove the key"]),
    ("format = 1\n", "‸", "format", &["no `format` in the file", "`format = 1`"]),
    ("name = \"tile glazing bench\"\n", "", "name", &["no `name`", "add it"]),
    ("[plate]\npitch_mm = 50.0 ", "‸[plate]\n# ", "plate.pitch_mm", &["no `pitch_mm` in [plate]", "pitch_x_mm"]),
    ("[plate]\npitch_mm", "‸[plate]\npitch_x_mm", "plate.pitch_y_mm", &["no `pitch_y_mm`"]),
    ("[plate]\npitch_mm", "‸[plate]\npitch_y_in", "plate.pitch_x_mm", &["no `pitch_x_mm`", "`pitch_x_in`"]),
    ("[turntable]\nat_mm", "‸[turntable]\n#", "turntable.at_mm", &["no `at_mm` in [turntable]", "`at_in`"]),
    ("[[arm.joint]]\nname = \"elbow\"\naxis", "‸[[arm.joint]]\nname = \"elbow\"\n#", "arm.joint[3].axis", &["no `axis` in [arm.joint[3]]"]),
    ("columns = 30", "‸pitch_in = 2\ncolumns = 30", "plate.pitch_in", &["both `pitch_mm` and `pitch_in`"]),
    ("columns = 30", "‸pitch_x_mm = 2\ncolumns = 30", "plate.pitch_x_mm", &["both `pitch_mm` and `pitch_x_mm`"]),
    ("yaw_deg = 0.25", "‸at_in = [1, 2, 3]", "track.at_in", &["both `at_mm` and `at_in`", "only one"]),
    ("tilt_x_deg = 0.0", "tilt_x_deg = 0.0\nnotch_angles_deg = [0]", "turntable.notches", &["both `notch_angles_deg` and `notches`"]),
    ("hole = [3, 2]", "hole = [3, 2], ‸at_mm = [0, 0, 0]", "marks.pins.at_mm", &["both `hole` and `at_mm`"]),
    ("hole = [3, 2]", "", "marks.pins.hole", &["no `hole` in [marks.pins]", "`at_mm`"]),
    ("rows = 16", "rows = 16\n‸rows = 17", "", &["`rows` for the second time", "remove one"]),
    ("[mount]", "[‸plate]\n[mount]", "", &["`plate` for the second time"]),
    // Kinds of values.
    ("columns = 30", "columns = ‸\"30\"", "plate.columns", &["a text: `\"30\"`", "whole number", "without quotes"]),
    ("columns = 30", "columns = ‸30.0", "plate.columns", &["`30.0`", "without a decimal point"]),
    ("rows = 16", "rows = ‸0", "plate.rows", &["`0`", "whole number from 1"]),
    ("pitch_mm = 50.0", "pitch_mm = ‸\"50\"", "plate.pitch_mm", &["a text", "a number"]),
    ("pitch_mm = 50.0", "pitch_mm = ‸0", "plate.pitch_mm", &["`0`", "above 0"]),
    ("pitch_mm = 50.0", "pitch_mm = ‸inf", "plate.pitch_mm", &["`inf`", "finite"]),
    ("yaw_deg = 0.25", "yaw_deg = ‸nan", "track.yaw_deg", &["`nan`", "finite"]),
    ("yaw_deg = 0.25", "yaw_deg = ‸1e400", "track.yaw_deg", &["`1e400`", "finite"]),
    ("yaw_deg = 0.25", "yaw_deg = ‸true", "track.yaw_deg", &["a yes or no", "a number"]),
    ("yaw_deg = 0.25", "yaw_deg = ‸[1]", "track.yaw_deg", &["a list: `[1]`", "a number"]),
    ("at_mm = [0.0, 0.0, 18.0]", "at_mm = ‸[0.0, 18.0]", "mount.at_mm", &["found 2 numbers", "expected 3 numbers"]),
    ("at_mm = [0.0, 0.0, 18.0]", "at_mm = ‸18.0", "mount.at_mm", &["a number", "a list of 3 numbers"]),
    ("at_mm = [0.0, 0.0, 18.0]", "at_mm = [0.0, ‸\"é\", 18.0]", "mount.at_mm", &["a text"]),
    ("at_mm = [0.0, 0.0, 18.0]", "at_mm = [0.0, 0.0, ‸-inf]", "mount.at_mm", &["finite"]),
    ("format = 1", "format = ‸2", "format", &["format `2`", "reads format 1"]),
    ("name = \"tile glazing bench\"", "name = ‸7", "name", &["a number", "a text"]),
    ("name = \"tile glazing bench\"", "name = ‸\"  \"", "name", &["not blank"]),
    // The bench.
    ("\"platter\", at_mm", "‸\"table\", at_mm", "marks.spigot.frame", &["`\"table\"`", "\"platter\""]),
    ("\"platter\", at_mm = [80.0, 0.0, 12.0]", "\"platter\", ‸hole = [1, 1]", "marks.spigot.hole", &["for a mark of the platter"]),
    ("gauge =", "‸\"ga uge\" =", "marks.\"ga uge\"", &["the name `ga uge`", "letters (a to z, A to Z)"]),
    ("gauge =", "‸\"Maß\" =", "marks.\"Maß\"", &["the name `Maß`", "digits"]),
    ("gauge = { at_mm = [610.0, 240.0, 25.0] }", "gauge = ‸[610, 240, 25]", "marks.gauge", &["a list", "a table"]),
    ("features.left_foot", "features.‸\"left foot\"", "track.features.\"left foot\"", &["the name `left foot`"]),
    ("[-60.0, 85.0, 0.0]", "‸[-60.0, 85.0, 0.0, 1]", "track.features.left_foot", &["found 4 numbers"]),
    ("scale = 1.0                      # mm", "scale = ‸0 # mm", "track.scale", &["other than 0"]),
    ("lost_motion_mm = 0.0", "lost_motion_mm = ‸-0.1", "track.lost_motion_mm", &["`-0.1`", "minus"]),
    ("travel_mm = [0.0, 900.0]", "travel_mm = ‸[900.0, 0.0]", "track.travel_mm", &["upside down"]),
    ("scale = 1.0                      # degrees per unit of reading\n", "scale = ‸-0.0\n", "turntable.scale", &["other than 0"]),
    ("notches = 8", "notches = ‸0", "turntable.notches", &["whole number from 1"]),
    ("notches = 8", "notch_angles_deg = ‸[]", "turntable.notch_angles_deg", &["an empty list"]),
    ("travel_deg = [-360, 360]", "travel_deg = ‸[1, 1]", "turntable.travel_deg", &["equal"]),
    // The arm.
    ("limits_deg = [-165, 165]", "limits_deg = ‸[165, -165]", "arm.joint[1].limits_deg", &["upside down"]),
    ("limits_deg = [-165, 165]", "limits_deg = ‸[5, 5]", "arm.joint[1].limits_deg", &["equal"]),
    ("axis = [0, 0, 1]", "axis = ‸[0, 0, 0]", "arm.joint[1].axis", &["a direction"]),
    ("name = \"elbow\"", "name = ‸\"base\"", "arm.joint[3].name", &["`base`", "joint 1"]),
    ("name = \"elbow\"", "name = ‸\"el bow\"", "arm.joint[3].name", &["digits, `_` and `-`"]),
    ("elbow\"\naxis = [0, 1, 0]\nthrough_mm = [200, 0, 120]\nlimits_deg = [-120, 120]\nscale = -0.5\n\n[[arm", "j4\"\naxis = [0, 1, 0]\nthrough_mm = [200, 0, 120]\nlimits_deg = [-120, 120]\n\n‸[[arm", "arm.joint[4].name", &["joint 3"]),
    ("scale = -0.5", "scale = ‸0", "arm.joint[3].scale", &["other than 0"]),
    ("lost_motion_deg = 0.3", "lost_motion_deg = ‸-0.3", "arm.joint[4].lost_motion_deg", &["`-0.3`"]),
    ("x = [0, 0, -1]", "x = ‸[0.0002, 0, -1]", "arm.flange.x", &["89.989°", "within 0.01°"]),
    ("z = [1, 0, 0]", "z = ‸[0, 0, 0.0]", "arm.flange.z", &["a direction"]),
    // What is wanted.
    ("touch_mm = 0.4", "touch_mm = ‸0", "instruments.touch_mm", &["above 0"]),
    ("\"track.yaw\" = 1.0", "\"track.yaw\" = ‸0", "solve.\"track.yaw\"", &["tolerance above 0"]),
    ("\"track.yaw\" = 1.0", "\"track.yaw\" = ‸\"fixed\"", "solve.\"track.yaw\"", &["`\"fixed\"`", "\"free\""]),
    ("\"track.yaw\" = 1.0", "\"track.yaw\" = ‸true", "solve.\"track.yaw\"", &["`true`"]),
    ("\"track.yaw\" = 1.0", "track.‸x = 1.0", "solve.track.x", &["`track.x` for the second time"]),
    ("tip_mm = 2.0", "tip_mm = ‸-2", "accept.tip_mm", &["above 0"]),
    ("direction_deg = 0.5", "direction_deg = ‸-0.5", "accept.direction_deg", &["minus"]),
    ("clearance_mm = 8.0", "clearance_mm = ‸-1", "accept.clearance_mm", &["minus"]),
    // What the arm must stay clear of, and what it is made of.
    ("name = \"oven\"", "name = ‸\"the oven\"", "keep_out[1].name", &["digits, `_` and `-`"]),
    ("name = \"spindle\"", "name = ‸\"plate\"", "keep_out[2].name", &["the plate itself", "another name"]),
    ("name = \"spindle\"", "name = ‸\"oven\"", "keep_out[2].name", &["keep-out 1 has too"]),
    ("[[keep_out]]\nname = \"rear-wall\"", "‸[[keep_out]]", "keep_out[3].name", &["no `name` in [keep_out[3]]"]),
    ("frame = \"platter\"\ncyl", "frame = ‸\"table\"\ncyl", "keep_out[2].frame", &["\"platter\""]),
    ("half_space = {", "‸half_spaces = {", "keep_out[3].half_spaces", &["did you mean `half_space`?"]),
    ("half_space = { at_mm = [0, 800, 0], free = [0, -2, 0] }", "", "keep_out[3].box", &["`box` or `cylinder` or `half_space`"]),
    ("half_space = {", "box = { from_mm = [0, 0, 0], to_mm = [1, 1, 1] }\n‸half_space = {", "keep_out[3].half_space", &["both `box` and `half_space`", "only one"]),
    ("to_mm = [600, 700, 0]", "to_mm = ‸[600, 600, 400]", "keep_out[1].box.to_mm", &["without size along y and z", "has a volume"]),
    ("to_mm = [600, 700, 0]", "to_mm = ‸[600, 700, 2e6]", "keep_out[1].box.to_mm", &["within 1 km"]),
    ("turn_deg = 30", "‸turn = 30", "keep_out[1].box.turn", &["did you mean `turn_deg`?"]),
    ("radius_mm = 30", "radius_mm = ‸0", "keep_out[2].cylinder.radius_mm", &["above 0"]),
    ("height_mm = 200", "height_mm = ‸-200", "keep_out[2].cylinder.height_mm", &["above 0"]),
    ("height_mm = 200", "height_mm = ‸3e6", "keep_out[2].cylinder.height_mm", &["at most 1 km"]),
    ("axis = [0, 3, 4]", "axis = ‸[0, 0, 0]", "keep_out[2].cylinder.axis", &["a direction"]),
    ("free = [0, -2, 0]", "free = ‸[0, 0, 0]", "keep_out[3].half_space.free", &["a direction"]),
    ("half_space = { at_mm = [0, 800, 0], free = [0, -2, 0] }", "half_space = ‸7", "keep_out[3].half_space", &["a number", "a table"]),
    ("on = \"j2\"", "on = ‸\"j6\"", "arm.body[1].on", &["`\"j6\"`", "\"j1\" to \"j5\""]),
    ("on = \"j2\" ", "# ", "arm.body[1].on", &["no `on` in [arm.body[1]]"]),
    ("name = \"upper arm\"", "name = ‸\" \"", "arm.body[1].name", &["not blank"]),
    ("radius_mm = 40", "radius_mm = ‸0", "arm.body[1].radius_mm", &["above 0"]),
    ("radius_mm = 40", "‸radus_mm = 40", "arm.body[1].radus_mm", &["did you mean `radius_mm`?"]),
    ("[\"oven\", \"plate\"", "[‸\"ovens\", \"plate\"", "arm.body[1].may_touch", &["`ovens`", "did you mean `oven`?"]),
    ("[\"oven\", \"plate\", \"tool\"]", "‸\"oven\"", "arm.body[1].may_touch", &["a list of names"]),
    // What is not TOML.
    ("columns = 30", "columns = ‸thirty", "", &["`columns = thirty", "double quotes"]),
    ("columns = 30 ", "columns = 30‸,5 ", "", &["decimal point"]),
    ("columns = 30 ", "columns ‸30 ", "", &["`key = value`"]),
    ("columns = 30", "columns = ‸030", "", &["leading zeros"]),
    ("name = \"tile glazing bench\"", "name = \"tile glazing bench‸", "", &["closing quote"]),
    ("[mount]", "[mount‸", "", &["close the bracket"]),
    ("x = [0, 0, -1]", "x = [0, 0, -1", "", &["close the list"]),
    ("z = [1, 0, 0]", "z = [‸1 0 0]", "", &["commas between"]),
];

#[test]
fn each_slip_is_answered_where_it_stands() {
    let wrong: Vec<_> = SLIPS
        .iter()
        .filter_map(|slip| shortcoming(slip).err())
        .collect();
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        SLIPS.len(),
        wrong.join("\n")
    );
}

fn shortcoming((from, to, field, words): &Slip) -> Result<(), String> {
    assert!(WHOLE.contains(from), "{from:?} is not in the example");
    let marked = WHOLE.replacen(from, to, 1);
    let (_, problems) = read(&marked.replace('‸', ""));
    let all: Vec<_> = problems.iter().map(ToString::to_string).collect();
    let all = format!("{to:?} gives\n{}", all.join("\n"));
    let [one] = problems.as_slice() else {
        return Err(format!("not one message: {all}"));
    };
    if let Some(mark) = marked.find('‸') {
        let before = &marked[..mark];
        let line = before.matches('\n').count() + 1;
        let column = before.chars().rev().take_while(|c| *c != '\n').count() + 1;
        if (one.line, one.column) != (Some(line), Some(column)) {
            return Err(format!("not line {line}, column {column}: {all}"));
        }
    }
    if one.field.as_deref().unwrap_or("") != *field {
        return Err(format!("not the field {field}: {all}"));
    }
    let said = format!(
        "found {} expected {} {}",
        one.found, one.expected, one.advice
    );
    match words.iter().find(|word| !said.contains(**word)) {
        Some(word) => Err(format!("no {word:?}: {all}")),
        None => Ok(()),
    }
}
