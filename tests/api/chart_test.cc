// The estimate, the chart, the tables by hand and the way back.
#include <cmath>

#include "workshop.h"

namespace fuelwright::tests {
namespace {

class Chart : public Workshop {};

TEST_F(Chart, ADriveBecomesAnEstimateAChartAndARevision) {
  new_job_with_table();
  const Json bare = get("/api/v1/jobs/v8/chart").json();
  EXPECT_EQ(bare.at("basis"), "table");
  EXPECT_TRUE(bare.at("estimate").is_null());
  add_drive();
  const Json estimate = work("/api/v1/jobs/v8/estimate");
  ASSERT_TRUE(estimate.contains("sentence")) << estimate;
  ASSERT_FALSE(estimate.at("proposal").is_null()) << estimate.at("sentence");
  const Json chart = get("/api/v1/jobs/v8/chart").json();
  EXPECT_EQ(chart.at("basis"), "driving");
  const std::size_t nx = chart.at("x").at("points_si").size(),
                    ny = chart.at("y").at("points_si").size();
  for (const char* key : {"estimate", "sd_log", "half_width_95", "seconds", "mark", "in_force",
                          "proposed", "change", "says"}) {
    EXPECT_EQ(chart.at(key).size(), nx * ny) << key;
  }
  // The same figures as the estimate gave.
  EXPECT_EQ(chart.at("estimate"), estimate.at("evidence").at("estimate"));
  EXPECT_EQ(chart.at("proposed"), estimate.at("proposed").at("values"));
  // Seconds driven add up to the recording's, 240 s, all of it warm.
  double seconds = 0;
  for (const Json& v : chart.at("rests_on")[0].at("seconds")) seconds += v.get<double>();
  EXPECT_NEAR(seconds, 240, 1);
  // A section through a node carries the node's own figures: 2400 rpm, 55 kPa is node 2, 2.
  const Json cut =
      get("/api/v1/jobs/v8/chart/section?x0=800&y0=55000&x1=4000&y1=55000&points=3").json();
  const std::size_t node = 2 * nx + 2;
  EXPECT_NEAR(cut.at("x")[1].get<double>(), 2400, 1e-9);
  EXPECT_NEAR(cut.at("estimate")[1].get<double>(), chart.at("estimate")[node].get<double>(), 1e-12);
  EXPECT_NEAR(std::log(cut.at("high")[1].get<double>() / cut.at("estimate")[1].get<double>()),
              chart.at("half_width_95")[node].get<double>(), 1e-9);
  // What the parts say of it: no engine was computed here, so the table stands alone.
  const Json parts = get("/api/v1/jobs/v8/chart?basis=parts").json();
  EXPECT_EQ(parts.at("basis"), "table");
  EXPECT_TRUE(parts.at("proposed").is_null());
  EXPECT_EQ(get("/api/v1/jobs/v8/chart?basis=hearsay").code(), "usage");
  const Json track = get("/api/v1/jobs/v8/chart/track?points=100").json();
  ASSERT_EQ(track.at("tracks").size(), 1U);
  EXPECT_LE(track.at("tracks")[0].at("x").size(), 100U);
  EXPECT_GE(track.at("tracks")[0].at("x").size(), 20U);

  const Json proposal = get("/api/v1/jobs/v8/proposal").json();
  EXPECT_TRUE(proposal.at("may_accept")) << proposal;
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/accept", {{"seen", 99}}).status, 409);
  const Reply accepted = send("POST", "/api/v1/jobs/v8/accept",
                              {{"seen", proposal.at("proposal")}, {"why", "as proposed"}});
  ASSERT_EQ(accepted.status, 200) << accepted.text;
  EXPECT_EQ(accepted.json().at("revision"), 1);
  EXPECT_EQ(get("/api/v1/jobs/v8/proposal").status, 404);
  const Json difference = get("/api/v1/jobs/v8/compare?from=0&to=1").json();
  EXPECT_EQ(difference.at("tables").size(), 1U);
  const Json plan = work("/api/v1/jobs/v8/plan", {{"minutes", 5}});
  EXPECT_TRUE(plan.contains("sentence")) << plan;
  EXPECT_EQ(work("/api/v1/jobs/v8/plan", {{"minutes", 500}}).at("code"), "out_of_range");
}

TEST_F(Chart, ATableIsAmendedByHandWithAReasonAndTakenBack) {
  new_job_with_table();
  const Json chart = get("/api/v1/jobs/v8/chart?table=ve").json();
  const double was = chart.at("in_force")[0];
  Json amend{{"table", "ve"}, {"seen", 0}, {"nodes", {{0, 0, was * 1.02}}}};
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/amend", amend).code(), "usage");  // no reason
  amend["dry_run"] = true;
  const Reply dry = send("POST", "/api/v1/jobs/v8/amend", amend);
  ASSERT_EQ(dry.status, 200) << dry.text;
  EXPECT_TRUE(dry.json().at("revision").is_null());
  amend.erase("dry_run");
  amend["why"] = "idle hunts";
  const Reply done = send("POST", "/api/v1/jobs/v8/amend", amend);
  ASSERT_EQ(done.status, 200) << done.text;
  EXPECT_EQ(done.json().at("revision"), 1);
  const Json difference = done.json().at("tables")[0];
  EXPECT_EQ(difference.at("changed"), 1);
  EXPECT_EQ(difference.at("by_share"), true);
  ASSERT_EQ(difference.at("change").size(), difference.at("nodes").get<std::size_t>());
  EXPECT_NEAR(difference.at("change")[0].get<double>(), 0.02, 1e-9);
  EXPECT_EQ(difference.at("change")[1], 0.0);
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/amend", amend).status, 409);  // looked at revision 0
  amend["seen"] = 1;
  amend["nodes"] = {{0, 0, 99.0}};
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/amend", amend).status, 422);
  amend["nodes"] = {{70, 0, 0.5}};
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/amend", amend).status, 404);
  const Json calibration = get("/api/v1/jobs/v8/calibration").json();
  EXPECT_EQ(calibration.at("revision"), 1);
  const Json y = calibration.at("parts")[0].at("y");
  EXPECT_EQ(y.at("kind"), "map_absolute");
  EXPECT_EQ(y.at("unit"), "kPa");
  EXPECT_NEAR(55e3 * y.at("factor").get<double>() + y.at("offset").get<double>(), 55, 1e-9);
  EXPECT_NE(calibration.at("parts")[0].at("reason").get<std::string>().find("idle hunts"),
            std::string::npos)
      << calibration.at("parts");
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/revert", {{"revision", 0}, {"seen", 0}}).status, 409);
  const Reply back =
      send("POST", "/api/v1/jobs/v8/revert", {{"revision", 0}, {"seen", 1}, {"why", "worse"}});
  ASSERT_EQ(back.status, 200) << back.text;
  EXPECT_EQ(get("/api/v1/jobs/v8/revisions").json().at("in_force"), 0);
}

TEST_F(Chart, ATableGoesOutAndAnEditedOneComesBack) {
  new_job_with_table();
  for (const std::string form : {"tsv", "csv", "json", "cdf"}) {
    const Reply r = get("/api/v1/jobs/v8/export?form=" + form);
    EXPECT_EQ(r.status, 200) << form << r.text;
    EXPECT_NE(r.headers.find("Content-Disposition")->second.find("v8-0-tables." + form),
              std::string::npos);
  }
  EXPECT_EQ(get("/api/v1/jobs/v8/export?form=xls").code(), "usage");
  std::string text = get("/api/v1/jobs/v8/export?form=tsv").text;
  const auto cell = text.find("67");
  ASSERT_NE(cell, std::string::npos) << text;
  text.replace(cell, 2, "69");
  Json in{{"text", text}, {"dry_run", true}};
  const Reply dry = send("POST", "/api/v1/jobs/v8/bring-in", in);
  ASSERT_EQ(dry.status, 200) << dry.text;
  EXPECT_TRUE(dry.json().at("revision").is_null());
  EXPECT_EQ(dry.json().at("tables")[0].at("changed"), 1) << dry.text;
  in = {{"text", text}, {"why", "from the spreadsheet"}, {"seen", 0}};
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/bring-in", in).json().at("revision"), 1);
  EXPECT_EQ(send("POST", "/api/v1/jobs/v8/bring-in", in).status, 409);
  const Reply wrong =
      send("POST", "/api/v1/jobs/v8/bring-in", {{"text", "1\t2\nx\ty"}, {"dry_run", true}});
  EXPECT_GE(wrong.status, 400);
  EXPECT_LT(wrong.status, 500);
}

}  // namespace
}  // namespace fuelwright::tests
