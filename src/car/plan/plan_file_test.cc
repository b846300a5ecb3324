// Plans read from files and written again.
#include "car/plan/plan_file.h"

#include <gtest/gtest.h>

namespace fuelwright::car::plan_file_test {
namespace {

constexpr const char* kToml = R"(# an evening's drive
format = "fuelwright plan 1"

[[steps]]
kind = "idle"
time = "20 s"

[[steps]]
kind = "hold"
gear = 3
speed = "2400 rpm"
time = "0.5 min"

[[steps]]
kind = "sweep"
gear = 3
from = "2000 rpm"
until = "4500 rpm"
pressure = "18 inHg absolute"

[[steps]]
kind = "sweep"
gear = 2
from = "2000 rpm"
until = "5200 rpm"

[[steps]]
kind = "coast"
gear = 2
from = "4000 rpm"
until = "1500 rpm"
)";

std::string refusal(const std::string& text, const char* name = "p.toml") {
  const auto plan = read_plan(text, name);
  return plan ? "accepted" : plan.error().line();
}

TEST(PlanFile, EveryKindOfStepIsReadWithItsUnits) {
  const auto plan = read_plan(kToml, "p.toml");
  ASSERT_TRUE(plan.ok()) << plan.error().line();
  ASSERT_EQ(plan->steps.size(), 5u);
  EXPECT_EQ(plan->steps[0], idle_for(20.0 * second));
  EXPECT_EQ(plan->steps[1], hold_at(rpm(2400), 3, 30.0 * second));
  EXPECT_EQ(plan->steps[2].kind, PlanStepKind::sweep);
  // 18 inHg at 3386.389 Pa each (NIST SP 811, appendix B: conventional inch of mercury): 60955 Pa.
  EXPECT_NEAR(plan->steps[2].map->from_zero.si, 60955, 1);
  EXPECT_EQ(plan->steps[3], sweep(rpm(2000), rpm(5200), 2));
  EXPECT_EQ(plan->steps[4], coast(rpm(4000), rpm(1500), 2));
}

// 8.7 psi at 6894.757 Pa each (NIST SP 811, appendix B): 59984 Pa.
TEST(PlanFile, AHoldOnADynoNamesItsPressureAndOneOnTheRoadNone) {
  const std::string hold =
      "[[steps]]\nkind = \"hold\"\ngear = 4\nspeed = \"2400 rpm\"\ntime = \"8 s\"\n";
  const auto road = read_plan(hold, "p.toml");
  ASSERT_TRUE(road) << road.error().line();
  EXPECT_FALSE(road->steps[0].map);
  const auto dyno = read_plan(hold + "pressure = \"8.7 psi absolute\"\n", "p.toml");
  ASSERT_TRUE(dyno) << dyno.error().line();
  ASSERT_TRUE(dyno->steps[0].map);
  EXPECT_NEAR(dyno->steps[0].map->from_zero.si, 59984, 1);
  EXPECT_EQ(refusal(hold + "pressure = \"5 kPa\"\n"),
            "p.toml:1: step 1: 5 kPa came; expected 10 to 400");
  EXPECT_EQ(
      write_plan({{hold_at(rpm(2400), 4, 8.0 * second, absolute(60.0 * kPa))}}),
      "format = \"fuelwright plan 1\"\n\n"
      "[[steps]]  # gear 4: hold 2400 rpm at 60 kPa for 8 s, on a dyno\n"
      "kind = \"hold\"\ngear = 4\nspeed = \"2400 rpm\"\ntime = \"8 s\"\npressure = \"60 kPa\"\n");
}

TEST(PlanFile, WhatIsWrittenIsReadBackToTheLastBitInBothForms) {
  Plan plan = *read_plan(kToml, "p.toml");
  plan.steps.push_back(hold_at(rpm(2400.1 / 3), 4, (100.0 / 7) * second));
  plan.steps.push_back(hold_at(rpm(2400), 4, 8.0 * second, absolute(61.3 * kPa)));
  plan.steps.push_back(sweep(rpm(1900.7), rpm(3000), 3, absolute(61234.567891 * pascal)));
  plan.steps.push_back(sweep(rpm(2500), rpm(1200), 3, absolute(31.0 * kPa)));
  for (const PlanForm form : {PlanForm::toml, PlanForm::json}) {
    const std::string text = write_plan(plan, form);
    const auto back = read_plan(text, "again");
    ASSERT_TRUE(back.ok()) << back.error().line() << "\n" << text;
    EXPECT_EQ(*back, plan) << text;
    EXPECT_EQ(write_plan(*back, form), text);
  }
}

TEST(PlanFile, AStepStandsInTheFileAsAPersonWouldWriteIt) {
  EXPECT_EQ(write_plan({{sweep(rpm(2000), rpm(4500), 3, absolute(60.0 * kPa))}}),
            "format = \"fuelwright plan 1\"\n\n"
            "[[steps]]  # gear 3: 2000 to 4500 rpm at 60 kPa\n"
            "kind = \"sweep\"\ngear = 3\nfrom = \"2000 rpm\"\nuntil = \"4500 rpm\"\n"
            "pressure = \"60 kPa\"\n");
}

TEST(PlanFile, WhatCannotBeIsOneLineThatNamesTheLineTheStepAndTheKey) {
  const std::string idle = "[[steps]]\nkind = \"idle\"\n";
  EXPECT_EQ(refusal(idle), "p.toml:1: step 1: a step of kind idle needs time");
  EXPECT_EQ(refusal(idle + "time = \"5 s\"\ngear = 1\n"),
            "p.toml:4: step 1: gear: a step of kind idle has no such key; expected time");
  EXPECT_EQ(refusal(idle + "time = \"2 h\"\n"),
            "p.toml:1: step 1: lasts 7200 s; expected 0 to 3600");
  EXPECT_EQ(refusal("[[steps]]\nkind = \"dash\"\n"),
            "p.toml:2: step 1: kind: \"dash\" came; expected idle, hold, sweep or coast");
  EXPECT_EQ(refusal("[[steps]]\ntime = \"5 s\"\n"),
            "p.toml:1: step 1: has no kind; expected idle, hold, sweep or coast");
  EXPECT_EQ(refusal("speed = 3\n"), "p.toml:1: speed: unknown key; expected format and steps");
  EXPECT_EQ(refusal("format = \"plan\"\n"),
            "p.toml:1: format: \"plan\" came; expected \"fuelwright plan 1\"");
  EXPECT_EQ(refusal("steps = 3\n"), "p.toml:1: steps: is no list of steps");
  EXPECT_EQ(refusal(""), "p.toml: has no step; expected at least one");
  EXPECT_EQ(refusal("[[steps]\n").substr(0, 22), "p.toml:1: is no TOML: ");
  for (const char* text :
       {"[[steps]]\nkind = \"idle\"\ntime = 20\n",
        "[[steps]]\nkind = \"idle\"\ntime = \"20 rpm\"\n",
        "[[steps]]\nkind = \"idle\"\ntime = [1]\n",
        "[[steps]]\nkind = \"idle\"\ntime = \"20 s +- 1 s\"\n",
        "[[steps]]\nkind = \"hold\"\ngear = 2.5\nspeed = \"2000 rpm\"\ntime = \"5 s\"\n",
        "[[steps]]\nkind = \"hold\"\ngear = 99999999999999\nspeed = \"2000 rpm\"\ntime = \"5 s\"\n",
        "[[steps]]\nkind = \"sweep\"\ngear = 2\nfrom = \"2000 rpm\"\nuntil = \"3000 rpm\"\n"
        "pressure = \"5 psi gauge\"\n"}) {
    const std::string line = refusal(text);
    EXPECT_EQ(line.rfind("p.toml:", 0), 0u) << line;
    EXPECT_EQ(line.find('\n'), std::string::npos) << line;
  }
}

TEST(PlanFile, JsonIsReadByTheSameRules) {
  const auto plan = read_plan(
      R"({"format": "fuelwright plan 1", "steps": [{"kind": "hold", "gear": 3, "speed": "2400 rpm", "time": "15 s"}]})",
      "p.json");
  ASSERT_TRUE(plan.ok()) << plan.error().line();
  EXPECT_EQ(*plan, (Plan{{hold_at(rpm(2400), 3, 15.0 * second)}}));
  EXPECT_EQ(refusal(R"({"steps": [{"kind": "idle", "time": "5 rpm"}]})", "p.json")
                .rfind("p.json: step 1: time: ", 0),
            0u);
  EXPECT_EQ(refusal("{", "p.json"), "p.json: is no JSON");
  EXPECT_EQ(refusal(R"({"steps": [3]})", "p.json"), "p.json: steps: is no list of steps");
}

TEST(PlanFile, AHugeFileIsRefused) {
  EXPECT_NE(refusal(std::string(std::size_t{2} << 20U, ' ')).find("expected at most"),
            std::string::npos);
  std::string many;
  for (int i = 0; i < 1001; ++i) many += "[[steps]]\nkind = \"idle\"\ntime = \"1 s\"\n";
  EXPECT_NE(refusal(many).find("1001 steps came"), std::string::npos);
}

}  // namespace
}  // namespace fuelwright::car::plan_file_test
