#include "car/tables/placing.h"

#include <gtest/gtest.h>

namespace fuelwright::car::placing_test {
namespace {

Surface table() {
  return Surface::flat({Axis::even(AxisKind::engine_speed, 1000, 4000, 4),
                        Axis::even(AxisKind::map_absolute, 40e3, 100e3, 4)},
                       0.60);
}

Surface block(std::vector<double> speeds, std::vector<double> loads, double value) {
  return Surface::flat({*Axis::make(AxisKind::engine_speed, std::move(speeds)),
                        *Axis::make(AxisKind::map_absolute, std::move(loads))},
                       value);
}

TEST(Placing, APartOnTheTablesOwnAxesChangesItsNodesAndNoOthers) {
  const auto p = place(block({2000, 4000}, {60e3}, 0.75), table(), false, true);
  ASSERT_TRUE(p) << p.error().line();
  EXPECT_EQ(p->axes, AxesThatCame::part);
  EXPECT_EQ(p->nodes, (std::vector<int>{5, 7}));
  EXPECT_EQ(p->surface.node(1, 1), 0.75);
  EXPECT_EQ(p->surface.node(2, 1), 0.60);  // between the two columns that came
  EXPECT_EQ(p->largest_loss, 0);
}

TEST(Placing, RoundedBreakpointsAreTheTablesOwn) {
  const auto p = place(block({1000, 2000, 3000, 4000}, {40.1e3, 60e3, 80e3, 99.9e3}, 0.7), table(),
                       false, true);
  ASSERT_TRUE(p) << p.error().line();
  EXPECT_EQ(p->axes, AxesThatCame::same);
  EXPECT_NEAR(p->largest_shift, 0.005, 1e-12);  // 0.1 kPa of 20 kPa
  EXPECT_EQ(p->surface.grid, table().grid);
  EXPECT_FALSE(breakpoint_at(table().grid.y, 40.5e3));  // 2.5 % of the way
}

TEST(Placing, OtherAxesAreAskedAboutAndSayWhatWouldBeLost) {
  Surface came = block({1000, 1500, 2000}, {40e3, 60e3}, 0.60);
  came.node(1, 0) = 0.70;  // a corner between two nodes of the table
  const auto asked = place(came, table(), false, true);
  ASSERT_FALSE(asked);
  EXPECT_EQ(asked.error().code, ErrorCode::needs_answer);
  EXPECT_NE(asked.error().message.find("loses up to 10 %"), std::string::npos)
      << asked.error().message;
  const auto p = place(came, table(), true, true);
  ASSERT_TRUE(p);
  EXPECT_NEAR(p->largest_loss, 0.10, 1e-12);
  EXPECT_EQ(p->nodes, (std::vector<int>{0, 1, 4, 5}));
}

TEST(Placing, InterpolatedNodesLieBetweenWhatCameAndNothingIsExtrapolated) {
  // 0.5 at 1500 rpm, 0.7 at 3500 rpm: 0.55 at 2000 rpm, 0.65 at 3000 rpm, by hand.
  Surface came = block({1500, 3500}, {40e3, 100e3}, 0.5);
  came.node(1, 0) = came.node(1, 1) = 0.7;
  const auto p = place(came, table(), true, true);
  ASSERT_TRUE(p);
  EXPECT_NEAR(p->surface.node(1, 2), 0.55, 1e-12);
  EXPECT_NEAR(p->surface.node(2, 2), 0.65, 1e-12);
  EXPECT_EQ(p->surface.node(0, 2), 0.60);  // 1000 rpm lies outside: it keeps its value
  EXPECT_EQ(p->surface.node(3, 2), 0.60);
}

TEST(Placing, AxesOfOtherKindsOrElsewhereAreRefused) {
  Surface throttle = Surface::flat(
      {Axis::even(AxisKind::engine_speed, 1000, 4000, 4), Axis::even(AxisKind::throttle, 0, 1, 4)},
      0.6);
  const auto kinds = place(throttle, table(), true, true);
  ASSERT_FALSE(kinds);
  EXPECT_EQ(kinds.error().message,
            "throttle opening came; the table stands over manifold pressure (absolute)");
  const auto elsewhere = place(block({5000, 6000}, {40e3, 60e3}, 0.7), table(), true, true);
  ASSERT_FALSE(elsewhere);
  EXPECT_EQ(elsewhere.error().code, ErrorCode::out_of_range);
}

}  // namespace
}  // namespace fuelwright::car::placing_test
