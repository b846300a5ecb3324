#include <gmock/gmock.h>
#include <gtest/gtest.h>

#include "advice/proposal/invented_estimate.h"
#include "advice/proposal/proposal.h"

namespace fuelwright::advice::words_test {
namespace {

using car::NodeMark;
using ::testing::HasSubstr;
using ::testing::Not;

const car::Grid kGrid = invented_grid();
const ProposalOptions kSeaLevel{.ambient = absolute(100.0 * kPa)};

std::string join(const std::vector<std::string>& lines) {
  std::string out;
  for (const auto& l : lines) out += l + "\n";
  return out;
}
ProposedTable proposed(const MapEstimate& e, double now = 0.80,
                       const ProposalOptions& options = kSeaLevel) {
  const car::Surface table = car::Surface::flat(kGrid, now);
  const auto p = propose(e, &table, car::Surface::flat(kGrid, 0.85), options);
  EXPECT_TRUE(p) << p.error().line();
  return *p;
}
Reader reader() { return {UnitSystem::metric, *car::MixtureScale::parse("afr 14.7")}; }

TEST(ProposalWords, TheySayWhatChangedWhereAndWhy) {
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.01, NodeMark::measured);
  set_node(e, 2, 0.86, 0.01, NodeMark::measured);   // 3000 rpm, 40 kPa
  set_node(e, 6, 0.76, 0.005, NodeMark::measured);  // 2000 rpm, 60 kPa
  const std::string text = join(words(proposed(e), reader()));
  EXPECT_THAT(text, HasSubstr("1 node richer, because the mixture seen was leaner than meant: "
                              "+7.5 % at 3000 rpm, 40.00 kPa"));
  // 0.80 ln: -0.0513 + 1.645 0.005 = -0.0431 -> 0.76627 -> 0.767: -4.1 %
  EXPECT_THAT(text, HasSubstr("1 node leaner, as far as that is proven (95 in 100): -4.1 % at "
                              "2000 rpm, 60.00 kPa"));
  EXPECT_THAT(text, HasSubstr("keeps its 5 x 4 nodes"));
  EXPECT_THAT(text, HasSubstr("Load this and clear the unit's own corrections"));
  EXPECT_THAT(text, Not(HasSubstr("wait for proof")));
}

TEST(ProposalWords, TheySayWhatIsHeldBackAndWhatWouldReleaseIt) {
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.01, NodeMark::measured);
  set_node(e, 2, 0.76, 0.05, NodeMark::inferred);
  set_node(e, 17, 0.70, 0.02, NodeMark::inferred);
  const std::string text = join(words(proposed(e), reader()));
  // 1.96 0.0513/1.645 = 6.1 %, now 1.96 0.05 = 9.8 %
  EXPECT_THAT(text, HasSubstr("-5.0 % wanted, +0.0 % made, moves once known to \xC2\xB1"
                              "6.1 % (now \xC2\xB1"
                              "9.8 %) at 3000 rpm, 40.00 kPa"));
  EXPECT_THAT(text, HasSubstr("only driving there releases them: -12.5 % at 3000 rpm, 100.0 kPa"));
}

TEST(ProposalWords, TheyStateTheSafeLimitAndTheChance) {
  MapEstimate e = invented_estimate(kGrid, 0.80, 0.08, NodeMark::prior_only);
  const std::string text = join(words(proposed(e), reader()));
  EXPECT_THAT(text, HasSubstr("the chance of being leaner than the safe limit stays under 1 %"));
  EXPECT_THAT(text, HasSubstr("lambda 0.920 (13.5 AFR on the 14.7 scale) at full load"));
  EXPECT_THAT(reason(proposed(e)), HasSubstr("kept rich (chance of being too lean under 1 %)"));
}

TEST(ProposalWords, AStepThatWasBoundedIsNoPermissionForFullThrottle) {
  const auto p = proposed(invented_estimate(kGrid, 1.6, 0.02, NodeMark::measured));
  EXPECT_THAT(join(words(p, reader())), HasSubstr("Do not drive full load with this table yet"));
}

TEST(ProposalWords, NothingToChangeIsSaid) {
  const auto p = proposed(invented_estimate(kGrid, 0.80, 0.01, NodeMark::measured));
  EXPECT_THAT(join(words(p, reader())), HasSubstr("Nothing is to change by more than 1 % yet."));
  EXPECT_EQ(reason(p), "nothing to change by more than 1 % yet");
}

TEST(ProposalWords, OutsideItsFamilyTheySaySo) {
  ProposalOptions strict = kSeaLevel;
  strict.may_extrapolate = false;
  const auto p = proposed(invented_estimate(kGrid, 0.9, 0.03, NodeMark::prior_only), 0.80, strict);
  EXPECT_THAT(join(words(p, reader())), HasSubstr("20 nodes that are guesses keep the value in "
                                                  "force"));
  EXPECT_THAT(reason(p), HasSubstr("guesses were not moved"));
}

TEST(ProposalWords, AnOwnerWhoReadsVacuumInInchesIsToldSo) {
  const car::Grid grid{car::Axis::even(car::AxisKind::engine_speed, 1000, 2000, 2),
                       car::Axis::even(car::AxisKind::vacuum, 0, 50e3, 2)};
  const car::Surface now = car::Surface::flat(grid, 0.80);
  const auto p = propose(invented_estimate(grid, 0.88, 0.02, NodeMark::measured), &now,
                         car::Surface::flat(grid, 0.85), kSeaLevel);
  ASSERT_TRUE(p) << p.error().line();
  EXPECT_THAT(join(words(*p, {UnitSystem::us, {}})), HasSubstr("inHg"));
}

}  // namespace
}  // namespace fuelwright::advice::words_test
