//! Readings of the arm itself for `glazing-bench`: level, plumb and heights.

use super::lab::Lab;

/// Level and plumb.
pub fn attitudes(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "attitude.csv",
        "kind,body,axis,toward,by,angle_deg,track,j1,j2,j3,j4,j5,note",
        "Directions of plate, links and tool set level or plumb, or measured against that.
        square: a square on the plate; bubble: a spirit level or a digital one. (Invented.)",
    );
    let plate = |axis| {
        [
            ("kind", "level"),
            ("body", "plate"),
            ("axis", axis),
            ("by", "bubble"),
            ("track", "0"),
            ("angle_deg", "?"),
        ]
    };
    for axis in ["x", "y", "x", "y"] {
        sheet.row(&plate(axis), 0.0, "0.05");
    }
    for track in ["100", "760"] {
        for (axis, toward) in [("z", "left"), ("z", "ahead")] {
            let fields = [
                ("kind", "plumb"),
                ("body", "j1"),
                ("axis", axis),
                ("toward", toward),
                ("by", "square"),
                ("angle_deg", "?"),
                ("track", track),
                ("j1", "0"),
            ];
            sheet.row(&fields, 0.0, "0.05");
        }
    }
    let level = |body, by| [("kind", "level"), ("body", body), ("axis", "x"), ("by", by)];
    for (track, j1) in [("100", "0"), ("760", "45")] {
        let mut fields = level("j2", "bubble").to_vec();
        fields.extend([("track", track), ("j1", j1), ("j2", "?")]);
        sheet.row(&fields, 0.0, "0.01");
        let mut fields = level("j3", "bubble").to_vec();
        fields.extend([("track", track), ("j1", j1), ("j2", "-40"), ("j3", "?")]);
        sheet.row(&fields, 40.0, "0.01");
    }
    for (track, j1) in [("300", "90"), ("560", "60")] {
        let fields = [
            ("kind", "plumb"),
            ("body", "tool"),
            ("axis", "-z"),
            ("by", "square"),
            ("track", track),
            ("j1", j1),
            ("j2", "-50"),
            ("j3", "90"),
            ("j4", "?"),
            ("j5", "0"),
        ];
        sheet.row(&fields, 50.0, "0.01");
        let fields = [
            ("kind", "level"),
            ("body", "flange"),
            ("axis", "y"),
            ("by", "bubble"),
            ("track", track),
            ("j1", j1),
            ("j2", "-50"),
            ("j3", "90"),
            ("j4", "-40"),
            ("j5", "?"),
        ];
        sheet.row(&fields, 0.0, "0.01");
    }
    sheet.done();
}

/// Heights.
pub fn heights(lab: &mut Lab) {
    let mut sheet = lab.sheet(
        "height.csv",
        "of,over,height_mm,track,j1,j2,j3,j4,j5,note",
        "Heights by a height gauge standing on the plate, or of one pivot over another. (Invented.)",
    );
    for track in ["20", "450", "880"] {
        let fields = [
            ("of", "j2"),
            ("height_mm", "?"),
            ("track", track),
            ("j1", "90"),
            ("note", "middle of the shoulder's pivot"),
        ];
        sheet.row(&fields, 230.0, "0.1");
    }
    let fields = [
        ("of", "j3"),
        ("over", "j2"),
        ("height_mm", "?"),
        ("track", "300"),
        ("j1", "90"),
        ("j2", "-60"),
    ];
    sheet.row(&fields, 190.0, "0.1");
    for (track, j3) in [("120", "80"), ("700", "100")] {
        let fields = [
            ("of", "tip"),
            ("height_mm", "?"),
            ("track", track),
            ("j1", "80"),
            ("j2", "-45"),
            ("j3", j3),
            ("j4", "45"),
            ("j5", "0"),
        ];
        sheet.row(&fields, 100.0, "0.1");
    }
    sheet.done();
}
