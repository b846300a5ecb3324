// Can the fuel system feed it: through the only door, from a job with its engines drawn.
#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <cstdlib>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "service/api/json.h"
#include "service/ensembles.h"
#include "service/report/text.h"
#include "service/size_ground.h"
#include "service/test_job.h"

namespace fuelwright::service::sizing_test {
namespace {

using physics::supply::Side;
using physics::supply::Weak;

// A plain four; %s: more of [injection], and the rest.
std::string sheet_with(const std::string& injection, const std::string& rest = "") {
  return R"(
[engine]
displacement = "2.3 l"
cylinders = 4
[cam]
intake_duration_050 = "206 deg"
[injection]
injector_flow = "40 lb/h at 43.5 psi"
squirts_per_cycle = 1
)" + injection +
         "[fuel]\nname = \"E10\"\n" + rest;
}
const std::string kPump = "pump_flow = \"110 l/h\"\npump_pressure = \"300 kPa\"\n";

// The engines are drawn once; every test gets a copy of that job with its own supply. Nothing of
// the supply changes how the engine breathes, so the engines are put beside each sheet.
class Sizing : public testing::Test {
 protected:
  static void SetUpTestSuite() {
    std::string name = (std::filesystem::temp_directory_path() / "fuelwright_size_XXXXXX").string();
    ASSERT_NE(mkdtemp(name.data()), nullptr);
    folder_ = name;
    const std::string job = folder_ + "/first.fw";
    ASSERT_TRUE(new_job({job, sheet_with(kPump), "coupe.toml", std::nullopt, std::nullopt, kKim}));
    SizeRequest request = request_for(job);
    const auto reply = size(request);
    ASSERT_TRUE(reply.ok()) << reply.error().line();
    EXPECT_TRUE(reply->drawn_now);
    const auto source = Job::open(job, Access::read);
    ASSERT_TRUE(source.ok());
    const auto kept = source->ensemble_for({sheet_with(kPump), kMembers, 1, kBreathingModel});
    ASSERT_TRUE(kept.ok() && kept->has_value());
    engines_ = **kept;
  }
  static void TearDownTestSuite() { std::filesystem::remove_all(folder_); }

  static SizeRequest request_for(const std::string& job) {
    SizeRequest r;
    r.job = job;
    r.members = kMembers;
    r.who = kKim.name;
    r.when = kKim.when;
    r.threads = 2;
    return r;
  }
  // A job of this sheet that has the engines already.
  std::string job_of(const std::string& sheet) {
    const std::string job =
        fmt::format("{}/{}_{}.fw", folder_,
                    testing::UnitTest::GetInstance()->current_test_info()->name(), ++jobs_);
    const auto made = new_job({job, sheet, "coupe.toml", std::nullopt, std::nullopt, kKim});
    EXPECT_TRUE(made.ok()) << (made ? "" : made.error().line());
    auto open = Job::open(job, Access::write);
    EXPECT_TRUE(open.ok());
    EXPECT_TRUE(open->keep_ensemble({sheet, kMembers, 1, kBreathingModel}, engines_,
                                    {kKim.name, kKim.when, "engines"}));
    return job;
  }
  SizeReply sized(const SizeRequest& request) {
    auto reply = size(request);
    EXPECT_TRUE(reply.ok()) << (reply ? "" : reply.error().line());
    return reply ? std::move(*reply) : SizeReply{};
  }
  SizeReply sized(const std::string& sheet) { return sized(request_for(job_of(sheet))); }

  static constexpr int kMembers = 16;
  static inline std::string folder_, engines_;
  int jobs_ = 0;
};

TEST_F(Sizing, TheAnswerBeginsWithOneSentenceAndTheSameStandsInTextAndJson) {
  const SizeReply r = sized(sheet_with(kPump));
  EXPECT_FALSE(r.drawn_now);  // kept in the job
  EXPECT_TRUE(r.pump_known);
  ASSERT_FALSE(r.answer.curve.empty());
  const std::string shown = text(r);
  EXPECT_EQ(shown.rfind(r.sentence, 0), 0u);
  for (const char* part : {"common practice, no source", "Limits:", "Rev limit",
                           "Cautions:", "What to measure first", "Hot fuel", "Idle:"})
    EXPECT_NE(shown.find(part), std::string::npos) << part;
  const auto j = nlohmann::json::parse(json(r));
  EXPECT_EQ(j["sentence"], r.sentence);
  EXPECT_EQ(j["curve"].size(), r.answer.curve.size());
  const auto& top = j["curve"].back();
  for (const char* key : {"speed_rpm", "demand_kg_s", "pump_kg_s", "injectors_kg_s", "rail_pa",
                          "duty", "short_share", "rule_of_thumb_kg_s"})
    EXPECT_TRUE(top.contains(key)) << key;
  // Air over lambda and stoichiometric ratio, never a rule: the demand over the power is a BSFC
  // that engines have (0.40 to 0.65 lb/hp h, practice), and no constant.
  const double low = j["curve"][0]["demand_kg_s"]["middle"].get<double>() /
                     j["curve"][0]["power_w"]["middle"].get<double>();
  const double high =
      top["demand_kg_s"]["middle"].get<double>() / top["power_w"]["middle"].get<double>();
  EXPECT_GT(high / (0.45359237 / 745.7 / 3600), 0.40);
  EXPECT_LT(high / (0.45359237 / 745.7 / 3600), 0.75);
  EXPECT_GT(std::abs(high / low - 1), 0.005);
}

TEST_F(Sizing, AWeakPumpIsNamedWithSpeedPowerAndTheSmallestCure) {
  const SizeReply r = sized(sheet_with("pump_flow = \"38 l/h\"\npump_pressure = \"300 kPa\"\n"));
  ASSERT_TRUE(r.answer.first);
  EXPECT_EQ(r.answer.first->part, Weak::pump);
  EXPECT_EQ(r.sentence.rfind("The pump runs out at ", 0), 0u) << r.sentence;
  ASSERT_FALSE(r.plan.empty());
  EXPECT_EQ(r.plan[0].cure.what, physics::supply::Change::pump_flow);
  EXPECT_GT(r.plan[0].cure.to_si, r.plan[0].cure.from_si);
  EXPECT_TRUE(r.answer.plan.enough);
  // No full throttle beyond it until it is cured, and that stands among the warnings.
  EXPECT_NE(text(r).find("Until the shortage is cured"), std::string::npos);
}

TEST_F(Sizing, NothingIsSaidOfAPumpThatNobodyNamed) {
  const SizeReply r = sized(sheet_with(""));
  EXPECT_FALSE(r.pump_known);
  EXPECT_EQ(r.sentence.rfind("The injectors", 0), 0u) << r.sentence;
  EXPECT_NE(r.sentence.find("not known"), std::string::npos);
  EXPECT_NE(r.not_known.find("Time what it delivers"), std::string::npos) << r.not_known;
  EXPECT_EQ(nlohmann::json::parse(json(r))["pump_known"], false);
}

TEST_F(Sizing, EnoughWithoutBoostAndShortWithAThirdOfABar) {
  SizeRequest request =
      request_for(job_of(sheet_with("pump_flow = \"72 l/h\"\npump_pressure = \"300 kPa\"\n")));
  const SizeReply plain = sized(request);
  EXPECT_LT(plain.answer.short_chance, 0.3) << plain.sentence;
  request.boost = 35.0 * kPa;
  const SizeReply boosted = sized(request);
  EXPECT_GT(boosted.answer.short_chance, plain.answer.short_chance + 0.1) << boosted.sentence;
  EXPECT_NE(boosted.sentence.find("boost"), std::string::npos);
  // And the sensor that was enough is not any more (1.05 of ambient and 1.10 of the boost).
  EXPECT_TRUE(plain.limits.map_sensor.high_enough);
  EXPECT_FALSE(boosted.limits.map_sensor.high_enough);
  request.boost = 500.0 * kPa;
  EXPECT_EQ(size(request).error().code, ErrorCode::out_of_range);
  request.boost.reset();
  request.cooler = true;
  EXPECT_EQ(size(request).error().where, "--cooler");
}

TEST_F(Sizing, WhatWasMeasuredIsKeptInTheJobAndTakesTheRatingsPlace) {
  SizeRequest request = request_for(job_of(sheet_with(kPump)));
  const SizeReply before = sized(request);
  request.measured = {
      {"delivery_flow", "40 l/h"}, {"delivery_pressure", "300 kPa"}, {"delivery_volts", "12.8 V"}};
  const SizeReply after = sized(request);
  EXPECT_TRUE(after.answer.measured_delivery);
  EXPECT_LT(after.answer.curve.back().pump_kg_s.middle,
            0.6 * before.answer.curve.back().pump_kg_s.middle);
  EXPECT_NE(text(after).find("delivery_flow = 40 l/h"), std::string::npos);
  request.measured.clear();
  EXPECT_EQ(sized(request).sentence, after.sentence);  // kept
  const auto journal = show({request.job, ShowWhat::journal});
  ASSERT_TRUE(journal.ok());
  EXPECT_NE(text(*journal).find("what was measured of the fuel supply"), std::string::npos);
  request.forget_measured = true;
  EXPECT_EQ(sized(request).sentence, before.sentence);
}

TEST_F(Sizing, AMeasuredValueThatCannotBeIsRefusedAndNotKept) {
  SizeRequest request = request_for(job_of(sheet_with(kPump)));
  request.measured = {{"pump_vots", "12 V"}};
  EXPECT_NE(size(request).error().line().find("perhaps pump_volts"), std::string::npos);
  request.measured = {{"pump_volts", "12 furlongs"}};
  EXPECT_EQ(size(request).error().code, ErrorCode::unknown_unit);
  request.measured = {{"pump_volts", "45 V"}};
  const Error e = size(request).error();
  EXPECT_EQ(e.code, ErrorCode::out_of_range);
  EXPECT_NE(e.line().find("--measured: supply.pump_volts"), std::string::npos) << e.line();
  request.measured.clear();
  EXPECT_TRUE(sized(request).measured.empty());
}

TEST_F(Sizing, AStatedLimitThatIsLessSafeIsWarnedOfAndNotChanged) {
  const SizeReply r = sized(sheet_with(
      kPump,
      "[supply]\nmost_duty = 0.95\n[wishes]\nrev_limit = \"6400 rpm\"\nscale = \"lambda\"\n"
      "full_throttle_mixture = 0.97\n"));
  EXPECT_EQ(r.limits.rev.stated->rpm, 6400);
  EXPECT_NEAR(r.answer.middle.injectors.most_duty, 0.95, 1e-12);
  EXPECT_NEAR(r.answer.middle.lambda, 0.97, 1e-12);
  std::string all;
  for (const std::string& w : r.limits.warnings) all += w + "\n";
  EXPECT_NE(all.find("95 % duty"), std::string::npos) << all;
  EXPECT_NE(all.find("leaner than lambda 0.92"), std::string::npos) << all;
}

TEST_F(Sizing, AnAnswerInTheUnitsOfTheJob) {
  const std::string job = job_of(sheet_with(kPump));
  ASSERT_TRUE(keep_units(job, UnitSystem::us, kKim));
  const std::string us = text(sized(request_for(job)));
  EXPECT_NE(us.find("lb/h"), std::string::npos);
  EXPECT_NE(us.find("psi"), std::string::npos);
  ASSERT_TRUE(keep_units(job, UnitSystem::metric, kKim));
  const std::string metric = text(sized(request_for(job)));
  EXPECT_NE(metric.find("g/s"), std::string::npos);
  EXPECT_NE(metric.find(" kW"), std::string::npos);
}

// A recorded rail that falls in a pull weakens the pump of the answer; one that holds strengthens
// it.
TEST_F(Sizing, TheRailOfARecordedPullSpeaksForThePump) {
  const auto csv = [](double falls_kpa) {
    std::string out =
        "Time (s),RPM,MAP (kPa),Throttle (%),Coolant (degC),AFR,Fuel pressure (kPa)\n";
    for (int i = 0; i < 400; ++i) {
      const bool open = i > 100 && i < 300;
      const double n = open ? 2000 + 15.0 * (i - 100) : 2000;
      const double rail = 300 - (n > 3500 ? falls_kpa * (n - 3500) / 1500 : 0) - (open ? 0 : 55);
      out += fmt::format("{:.2f},{:.0f},{:.1f},{},88,{:.2f},{:.1f}\n", 0.05 * i, n,
                         open ? 99.0 : 45.0, open ? 100 : 15, open ? 12.6 : 14.6, rail);
    }
    return out;
  };
  const std::string sheet =
      sheet_with("pump_flow = \"60 l/h +- 15 l/h\"\npump_pressure = \"300 kPa\"\n");
  const SizeReply before = sized(sheet);
  const auto with = [&](double falls_kpa) {
    const std::string job = job_of(sheet);
    AddRequest add{job, "pull.csv", csv(falls_kpa), {}, std::nullopt, kKim};
    add.answers.afr_constant = 14.7;
    const auto added = add_recording(add);
    EXPECT_TRUE(added.ok()) << (added ? "" : added.error().line());
    return sized(request_for(job));
  };
  const SizeReply falling = with(60), holding = with(0);
  ASSERT_TRUE(falling.pull);
  EXPECT_EQ(falling.pull->name, "pull.csv");
  EXPECT_GT(falling.pull->to.rpm, 4500);
  EXPECT_GT(falling.answer.short_chance, 0.95) << falling.sentence;
  const auto pump = [](const SizeReply& r) { return r.answer.curve.back().pump_kg_s; };
  EXPECT_LT(pump(falling).high, pump(before).middle);
  EXPECT_GE(pump(holding).low, pump(before).low);
  EXPECT_LT(holding.answer.sides[static_cast<std::size_t>(Side::pump)].short_chance,
            before.answer.sides[static_cast<std::size_t>(Side::pump)].short_chance + 1e-9);
}

}  // namespace
}  // namespace fuelwright::service::sizing_test
