#include "physics/ensemble/what_to_measure.h"

#include <gtest/gtest.h>

#include <algorithm>

#include "car/build/sheet_file.h"
#include "physics/ensemble/internal/test_engine.h"

namespace fuelwright::physics::what_to_measure_test {
namespace {

Driving everywhere(const Ensemble& e) { return {"everywhere", Eigen::VectorXd::Ones(e.nodes())}; }

TEST(WhatToMeasure, TheWorthOfAPartOfALinearEngineIsKnownExactly) {
  const MapPlaces places = test_places();
  const Eigen::MatrixXd J = test_sensitivities(places, 6);
  const Ensemble e(test_drawn(J, places, 512, 5), without_discrepancy());
  const auto worth = what_to_measure(e, {everywhere(e)});
  const Eigen::VectorXd total = J.colwise().squaredNorm();
  // By hand: variance J'J, measuring part k leaves a quarter of its half-width, so 15/16 of J_k^2
  // goes.
  constexpr double kSample =
      0.01;  // of a half-width: members' variance and what J explains beyond it
  ASSERT_FALSE(worth.empty());
  EXPECT_EQ(worth.front().measuring, "measuring part 0");  // the one with the largest waves
  for (const Worth& w : worth) {
    const int k = w.measuring.back() - '0';
    const double before = k95 * std::sqrt(total.mean());
    const double after =
        k95 *
        std::sqrt((total - 15.0 / 16 * J.row(k).transpose().array().square().matrix()).mean());
    EXPECT_NEAR(w.before, before, kSample * k95);
    EXPECT_NEAR(w.before - w.after, before - after, 0.05 * before) << w.says();
    EXPECT_LT(w.after, w.before);
  }
  EXPECT_TRUE(std::is_sorted(worth.begin(), worth.end(),
                             [](auto& a, auto& b) { return a.after < b.after; }));
}

TEST(WhatToMeasure, OneMeasurementMayTellOfSeveralParts) {
  const MapPlaces places = test_places();
  const Eigen::MatrixXd J = test_sensitivities(places, 6);
  Drawn drawn = test_drawn(J, places, 64, 5);
  drawn.parts[1].measuring = drawn.parts[0].measuring = "degreeing the cam";
  drawn.parts[2].measuring = "";  // nothing tells of it
  const Ensemble e(std::move(drawn), without_discrepancy());
  const auto worth = what_to_measure(e, {everywhere(e)});
  ASSERT_FALSE(worth.empty());
  EXPECT_EQ(worth.front().parts, (std::vector<std::string>{"part 0", "part 1"}));
  for (const Worth& w : worth) EXPECT_NE(w.parts.front(), "part 2");
  EXPECT_EQ(worth.front().says().find("degreeing the cam: everywhere from \xC2\xB1"), 0u);
}

TEST(WhatToMeasure, StepsExplainAllOfALinearEngine) {
  const MapPlaces places = test_places();
  const Ensemble e(test_drawn(test_sensitivities(places, 6), places, 512, 5),
                   without_discrepancy());
  EXPECT_NEAR(explained_by_steps(e).mean(), 1, 0.05);
}

TEST(WhatToMeasure, WhatIsNotDrivenCountsNothing) {
  const MapPlaces places = test_places();
  Eigen::MatrixXd J = test_sensitivities(places, 2);
  J.row(0).tail(8).setZero();  // part 0 does nothing at full throttle
  const Ensemble e(test_drawn(J, places, 64, 5), without_discrepancy());
  Driving full = everywhere(e);
  full.weights.head(32).setZero();
  const auto worth = what_to_measure(e, {full});
  ASSERT_EQ(worth.size(), 1u);
  EXPECT_EQ(worth[0].measuring, "measuring part 1");
}

TEST(WhatToMeasure, TheDiscrepancyIsNotMeasuredAway) {
  const MapPlaces places = test_places();
  const Ensemble e(test_drawn(test_sensitivities(places, 1), places, 64, 5), {});
  Driving full = everywhere(e);
  full.weights.head(32).setZero();
  const auto worth = what_to_measure(e, {full});
  for (const Worth& w : worth) EXPECT_GT(w.after, k95 * 0.0795);  // sqrt(.05^2 + .06^2 + .015^2)
}

TEST(WhatToMeasure, UsualDrivingStandsWhereItsNameSays) {
  const auto sheet = car::read_sheet(R"(
[engine]
displacement = "6.2 l"
cylinders = 8
[cam]
intake_duration_050 = "236 deg"
[injection]
injector_flow = "380 cc/min @ 3 bar"
[fuel]
name = "E10"
)",
                                     "test.toml");
  const MapPlaces places = test_places(12, 8);
  const Ensemble e(test_drawn(test_sensitivities(places, 2), places, 64, 5), {});
  const auto kinds = usual_driving(e, sheet.ok() ? *sheet : car::Sheet{});
  ASSERT_TRUE(sheet.ok()) << sheet.error().line();
  ASSERT_EQ(kinds.size(), 3u);
  const auto peak = [&](const Driving& d) {
    Eigen::Index at = 0;
    d.weights.maxCoeff(&at);
    return std::pair(places.speeds[static_cast<std::size_t>(at % 12)].rpm,
                     places.pressures[static_cast<std::size_t>(at / 12)].from_zero.in(kPa));
  };
  EXPECT_LT(peak(kinds[0]).first, 1500);
  EXPECT_GT(peak(kinds[0]).second, 45);  // a big cam idles at 55 to 75 kPa
  EXPECT_EQ(peak(kinds[1]).second, 50);
  EXPECT_EQ(peak(kinds[2]).second, 100);
  for (const Driving& kind : kinds) EXPECT_GT(kind.weights.sum(), 0) << kind.name;
}

}  // namespace
}  // namespace fuelwright::physics::what_to_measure_test
