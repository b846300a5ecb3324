#include "physics/ensemble/uncertain.h"

#include <gtest/gtest.h>

#include <algorithm>
#include <set>

#include "car/build/derived.h"
#include "car/build/sheet_file.h"
#include "physics/breathing/breathing.h"
#include "physics/ensemble/sample.h"

namespace fuelwright::physics::uncertain_test {
namespace {

car::Sheet sheet_of(const std::string& more_cam = "", const std::string& more_engine = "") {
  const auto sheet =
      car::read_sheet("[engine]\ndisplacement = \"6.2 l\"\ncylinders = 8\n" + more_engine +
                          "[cam]\nintake_duration_050 = \"236 deg\"\n" + more_cam +
                          "[injection]\ninjector_flow = \"380 cc/min @ 3 bar\"\n"
                          "[fuel]\nname = \"E10\"\n",
                      "test.toml");
  EXPECT_TRUE(sheet.ok()) << sheet.error().line();
  return *sheet;
}

const UncertainPart& part(const std::vector<UncertainPart>& parts, const std::string& id) {
  const auto found =
      std::find_if(parts.begin(), parts.end(), [&](const auto& p) { return p.id == id; });
  EXPECT_NE(found, parts.end()) << id;
  return *found;
}

Variant moved_one(const car::Sheet& sheet, const std::string& id, double z) {
  const auto parts = uncertain_parts(sheet);
  std::vector<double> all(parts.size(), 0.0);
  for (std::size_t k = 0; k < parts.size(); ++k)
    if (parts[k].id == id) all[k] = z;
  return variant_of(sheet, parts, all);
}

TEST(UncertainParts, EachHasANameASourceAndAHalfWidthAndNoneComesTwice) {
  const auto parts = uncertain_parts(sheet_of());
  EXPECT_GE(parts.size(), 40u);
  EXPECT_LE(parts.size(), 60u);
  std::set<std::string> ids;
  for (const auto& p : parts) {
    EXPECT_TRUE(ids.insert(p.id).second) << p.id;
    for (const auto& text : {p.id, p.name, p.group, p.source, p.half_width})
      EXPECT_FALSE(text.empty()) << p.id;
    EXPECT_GE(p.leaves, 0);
    EXPECT_LE(p.leaves, 1);
    EXPECT_EQ(p.measuring.empty(), p.leaves == 1) << p.id;
  }
}

TEST(UncertainParts, AToleranceIs196StandardDeviations) {
  const car::Sheet sheet = sheet_of();
  const Variant v = moved_one(sheet, "cam.intake_duration_050", k95);
  EXPECT_NEAR(v.sheet.cam.intake_duration_050.value.degrees(), 238, 1e-9);  // a card's 2 degrees
  const Variant w = moved_one(sheet, "engine.compression", -k95);
  EXPECT_NEAR(w.sheet.engine.compression.value, 8.5, 1e-9);  // 9.5 +- 1.0, typical
}

TEST(UncertainParts, TypicalDurationsGoWithTheOneTheyWereDerivedFrom) {
  const car::Sheet sheet = sheet_of();
  const Variant v = moved_one(sheet, "cam.intake_duration_050", k95);
  const car::Cam &a = sheet.cam, &b = v.sheet.cam;
  EXPECT_NEAR(b.intake_advertised.value.degrees() - a.intake_advertised.value.degrees(), 2, 1e-9);
  EXPECT_NEAR(b.intake_duration_200.value.degrees() - a.intake_duration_200.value.degrees(), 2,
              1e-9);
  EXPECT_NEAR(b.exhaust_duration_050.value.degrees() - a.exhaust_duration_050.value.degrees(), 2,
              1e-9);
  const car::Sheet carded = sheet_of("intake_advertised = \"290 deg\"\n");
  EXPECT_NEAR(
      moved_one(carded, "cam.intake_duration_050", k95).sheet.cam.intake_advertised.value.degrees(),
      290, 1e-9);
}

TEST(UncertainParts, ABoreIsDrawnAtTheDisplacementOfTheSheet) {
  const car::Sheet sheet = sheet_of();
  const Variant v = moved_one(sheet, "engine.bore_to_stroke", 2);
  EXPECT_GT(v.sheet.engine.bore.value, 1.01 * sheet.engine.bore.value);
  EXPECT_EQ(v.sheet.engine.displacement.value, sheet.engine.displacement.value);
  EXPECT_NEAR(car::swept_volume(v.sheet.engine.bore.value, v.sheet.engine.stroke.value, 8) /
                  sheet.engine.displacement.value,
              1, 1e-6);
  const Variant d = moved_one(sheet, "engine.displacement", k95);
  EXPECT_NEAR(d.sheet.engine.displacement.value / sheet.engine.displacement.value, 1.01, 1e-4);
  EXPECT_NEAR(car::swept_volume(d.sheet.engine.bore.value, d.sheet.engine.stroke.value, 8) /
                  d.sheet.engine.displacement.value,
              1, 1e-6);
}

TEST(UncertainParts, TypicalFlowAndPipesGoWithTheValve) {
  const car::Sheet sheet = sheet_of();
  const Variant v = moved_one(sheet, "heads.intake_valve", 1);
  const double f = v.sheet.heads.intake_valve.value / sheet.heads.intake_valve.value;
  EXPECT_GT(f, 1.01);
  EXPECT_NEAR(v.sheet.heads.flow_intake.values[2] / sheet.heads.flow_intake.values[2], f * f, 1e-9);
  EXPECT_NEAR(v.sheet.intake.runner_diameter.value / sheet.intake.runner_diameter.value, f, 1e-9);
}

TEST(UncertainParts, AMeasuredPartHasNothingLeftToMeasure) {
  const car::Sheet sheet =
      sheet_of("", "compression = { value = \"10.2 +- 0.2\", source = \"measured\" }\n");
  const auto parts = uncertain_parts(sheet);
  EXPECT_EQ(part(parts, "engine.compression").source, "measured");
  EXPECT_TRUE(part(parts, "engine.compression").measuring.empty());
  const auto typical = uncertain_parts(sheet_of());
  EXPECT_EQ(part(typical, "engine.compression").measuring,
            "measuring the compression with a burette");
  EXPECT_NEAR(part(typical, "engine.compression").leaves, 0.1, 1e-12);  // 0.1 of 1.0
}

TEST(UncertainParts, TiltTurnsTheFlowCurveAboutItsMiddle) {
  const car::Sheet sheet = sheet_of();
  const auto before = sheet.heads.flow_intake.values;
  const auto after = moved_one(sheet, "heads.flow_intake_tilt", 1).sheet.heads.flow_intake.values;
  EXPECT_LT(after.front(), before.front());
  EXPECT_GT(after.back(), before.back());
  EXPECT_NEAR((after.front() / before.front()) * (after.back() / before.back()), 1, 1e-12);
}

TEST(UncertainParts, NothingMovedIsTheSheetItself) {
  const car::Sheet sheet = sheet_of();
  const auto parts = uncertain_parts(sheet);
  const Variant v = variant_of(sheet, parts, std::vector<double>(parts.size(), 0.0));
  EXPECT_TRUE(v.sheet == sheet);
  EXPECT_TRUE(v.unstated == Unstated{});
}

TEST(UncertainParts, EveryEngineDrawnIsOneThatCanBe) {
  for (const std::string& duration :
       {std::string(), std::string("lobe_separation = \"104 deg\"\n")}) {
    const car::Sheet sheet = sheet_of(duration);
    const auto parts = uncertain_parts(sheet);
    const Eigen::MatrixXd z =
        1.5 * normal_draws(300, static_cast<int>(parts.size()), 3);  // wider than drawn
    int refused = 0;
    for (Eigen::Index m = 0; m < z.rows(); ++m) {
      const Eigen::VectorXd one = z.row(m);
      const Variant v = variant_of(sheet, parts, {one.data(), parts.size()});
      const car::Cam& c = v.sheet.cam;
      EXPECT_GT(c.intake_advertised.value, c.intake_duration_050.value);
      EXPECT_GT(c.intake_duration_050.value, c.intake_duration_200.value);
      EXPECT_GE(c.intake_lash.value.si, 0);
      EXPECT_GT(v.sheet.exhaust.primary_length.value.si, 0);
      EXPECT_GE(v.unstated.lost_motion_m, 0);
      EXPECT_LE(v.unstated.tail_damping, 1);
      refused += engine_model(v.sheet, v.unstated).ok() ? 0 : 1;
    }
    EXPECT_LE(refused, 3);
  }
}

}  // namespace
}  // namespace fuelwright::physics::uncertain_test
