// Writes fit.json: what fit-file-parser 6.1.2 (npm, MIT) reads of the FIT files that the module
// github.com/muktihari/fit v0.26.1 ships, lengths by geographiclib-geodesic 2.2.0 (npm, MIT). Both are independent of
// the Go code under test. Run it beside these packages:
//   npm install fit-file-parser@6.1.2 geographiclib-geodesic@2.2.0
//   node fit.mjs "$(go list -m -f '{{.Dir}}' github.com/muktihari/fit)/testdata"
import fs from "fs";
import path from "path";
import FitParser from "fit-file-parser";
import geodesic from "geographiclib-geodesic";

const files = [
  "from_official_sdk/Activity.fit", "from_official_sdk/HrmPluginTestActivity.fit", "from_official_sdk/WithGearChangeData.fit",
  "from_official_sdk/activity_developerdata.fit", "from_official_sdk/activity_lowbattery.fit", "from_official_sdk/activity_poolswim.fit",
  "from_official_sdk/activity_truncated.fit", "big_activity.fit",
];
const parser = new (FitParser.default || FitParser)({ force: true, lengthUnit: "m", mode: "list" });
const earth = geodesic.Geodesic.WGS84;
const given = (records, name) => records.map((r) => r[name]).filter((v) => v !== undefined && v !== null);
const result = {};
for (const file of files) {
  parser.parse(fs.readFileSync(path.join(process.argv[2], file)), (error, data) => {
    if (error) throw new Error(file + ": " + error);
    const records = data.records;
    const placed = records.filter((r) => r.position_lat !== undefined && r.position_long !== undefined);
    let length = 0;
    for (let i = 1; i < placed.length; i++) {
      const [a, b] = [placed[i - 1], placed[i]];
      length += earth.Inverse(a.position_lat, a.position_long, b.position_lat, b.position_long).s12;
    }
    const distances = given(records, "distance");
    const elevations = records.map((r) => r.enhanced_altitude ?? r.altitude).filter((v) => v !== undefined && v !== null);
    result[file] = {
      records: records.length, positions: placed.length, length_m: Math.round(length * 1e6) / 1e6,
      distances: distances.length, first_distance_m: distances[0] ?? null, last_distance_m: distances.at(-1) ?? null,
      elevations: elevations.length,
      min_elevation_m: elevations.reduce((a, b) => Math.min(a, b), Infinity), max_elevation_m: elevations.reduce((a, b) => Math.max(a, b), -Infinity),
    };
  });
}
fs.writeFileSync("fit.json", JSON.stringify(result, null, 1) + "\n");
