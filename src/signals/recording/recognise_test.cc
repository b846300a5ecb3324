#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <vector>

#include "signals/recording/internal/column_unit.h"
#include "signals/recording/internal/trade_words.h"
#include "signals/recording/recording.h"

namespace fuelwright::signals::recognise_test {
namespace {

using Q = Quantity;

// A drive in columns: throttle and engine speed go up and down, the rest follows as in a car.
struct Row {
  double t, rpm, map_kpa, tps, clt_c, iat_c, lambda, speed_kmh;
};
Row row(int i) {
  const double t = 0.1 * i;
  const double open = 0.5 + 0.45 * std::sin(0.37 * t) * std::cos(0.11 * t);
  const double rpm = 2000 + 1200 * std::sin(0.05 * t) + 15 * std::sin(17.0 * i);
  return {t,
          rpm,
          25 + 73 * open + std::sin(5.0 * i),
          3 + 90 * open,
          std::min(92.0, 20 + 0.05 * i),
          24 + 3 * std::sin(0.01 * t),
          1 + 0.03 * std::sin(3.0 * i),
          rpm / 35};
}

// A file of `rows` rows whose cells are made from a Row by each column's function.
struct Maker {
  std::string header;
  double (*value)(const Row&);
};
std::string file_of(const std::vector<Maker>& columns, int rows = 2000) {
  std::string out;
  for (const Maker& m : columns) out += (out.empty() ? "" : ",") + m.header;
  out += "\n";
  for (int i = 0; i < rows; ++i) {
    const Row r = row(i);
    for (std::size_t k = 0; k < columns.size(); ++k)
      out += fmt::format("{}{:.3f}", k == 0 ? "" : ",", columns[k].value(r));
    out += "\n";
  }
  return out;
}

double rpm_of(const Row& r) { return r.rpm; }
double map_of(const Row& r) { return r.map_kpa; }
double tps_of(const Row& r) { return r.tps; }
double clt_of(const Row& r) { return r.clt_c; }

Report report_of(const std::string& bytes, const Answers& answers = {}) {
  auto report = recognise(bytes, "log.csv", answers);
  EXPECT_TRUE(report.ok()) << (report.ok() ? "" : report.error().line());
  return report.ok() ? std::move(*report) : Report{};
}

const Guess& guess(const Report& r, const std::string& header) {
  const auto it = std::ranges::find(r.columns, header, &Guess::header);
  EXPECT_NE(it, r.columns.end()) << header;
  return *it;
}

Answers answers(const std::vector<std::string>& said) {
  Answers out;
  for (const std::string& s : said) EXPECT_TRUE(add_channel_answer(out, s).ok()) << s;
  return out;
}

Q by_name(const std::string& header) {
  const auto found = guess_by_name(header);
  return found.empty() || found.front().confidence < kSure ? Q::other : found.front().what;
}

TEST(TradeWords, SplitAtMarksAndCapitals) {
  EXPECT_EQ(words_of("ENGINE_RUN_TIME"), (std::vector<std::string>{"engine", "run", "time"}));
  EXPECT_EQ(words_of("engineSpeed"), (std::vector<std::string>{"engine", "speed"}));
  EXPECT_EQ(words_of("EngineRPM"), (std::vector<std::string>{"engine", "rpm"}));
  EXPECT_EQ(words_of("MAPSensor kPa"), (std::vector<std::string>{"map", "sensor", "kpa"}));
}

TEST(TradeWords, MeanWhatTheTradeMeans) {
  struct Case {
    const char* header;
    Q what;
  };
  for (const Case& c : std::initializer_list<Case>{{"RPM", Q::rpm},
                                                   {"Engine Speed", Q::rpm},
                                                   {"engineSpeed", Q::rpm},
                                                   {"MAP", Q::map},
                                                   {"Intake Manifold Pressure", Q::map},
                                                   {"TPS", Q::throttle},
                                                   {"Throttle Position", Q::throttle},
                                                   {"MAF", Q::maf},
                                                   {"Mass Air Flow", Q::maf},
                                                   {"CLT", Q::coolant},
                                                   {"ECT", Q::coolant},
                                                   {"Coolant Temp", Q::coolant},
                                                   {"IAT", Q::intake_air},
                                                   {"Intake Air Temperature", Q::intake_air},
                                                   {"AFR", Q::lambda},
                                                   {"Lambda 1", Q::lambda},
                                                   {"Wideband", Q::lambda},
                                                   {"AFR Target", Q::target},
                                                   {"Desired Lambda", Q::target},
                                                   {"LTFT", Q::long_trim},
                                                   {"Short Term Fuel Trim Bank 1", Q::short_trim},
                                                   {"Lambda Correction", Q::correction},
                                                   {"Injector Pulse Width", Q::pulse_width},
                                                   {"PW", Q::pulse_width},
                                                   {"Injector Duty", Q::duty},
                                                   {"Battery Voltage", Q::battery},
                                                   {"Vehicle Speed", Q::speed},
                                                   {"GPS Speed", Q::speed},
                                                   {"Barometric Pressure", Q::baro},
                                                   {"Timing Advance", Q::spark},
                                                   {"Spark", Q::spark},
                                                   {"Engine Load", Q::engine_load},
                                                   {"Gear", Q::gear},
                                                   {"Fuel Pressure", Q::fuel_pressure},
                                                   {"Time", Q::time},
                                                   {"Timestamp", Q::time},
                                                   {"Run Time", Q::run_time},
                                                   {"Oil Temp", Q::oil_temperature},
                                                   {"Ambient Air Temperature", Q::ambient_air},
                                                   {"O2 Voltage", Q::oxygen_voltage},
                                                   {"Ethanol", Q::ethanol},
                                                   {"Intake air", Q::intake_air},
                                                   {"Warm-up", Q::warm_up},
                                                   {"WARM_UPS_SINCE_CODES_CLEARED", Q::counter},
                                                   {"Intake air flow", Q::maf},
                                                   {"Intake Air Pressure", Q::map}}) {
    EXPECT_EQ(by_name(c.header), c.what)
        << c.header << " was taken for " << info(by_name(c.header)).name;
  }
}

TEST(TradeWords, OfALimitOrATargetAreNotTheThingItself) {
  for (const char* header :
       {"RPM Limit", "Idle Target RPM", "MAP error", "Coolant fan", "TPS raw ADC", "MAP voltage"}) {
    EXPECT_EQ(by_name(header), Q::other) << header;
  }
}

TEST(TradeWords, OfBanksTellTheBank) {
  EXPECT_EQ(bank_of("LONG_TERM_FUEL_TRIM_BANK_2"), 2);
  EXPECT_EQ(bank_of("O2_B2S1"), 2);
  EXPECT_EQ(bank_of("AFR2"), 2);
  EXPECT_EQ(bank_of("O2_B1S2"), 1);
  EXPECT_EQ(bank_of("LAMBDA_1"), 1);
  EXPECT_EQ(bank_of("O2"), 1);
}

TEST(Units, OfPressureAndTemperatureAreSettledByTheRange) {
  const Report r = report_of(file_of({{"RPM", rpm_of},
                                      {"MAP", map_of},
                                      {"TPS", tps_of},
                                      {"CLT", clt_of},
                                      {"IAT", [](const Row& x) { return x.iat_c; }}}));
  EXPECT_TRUE(r.questions.empty()) << r.questions.front().line();
  EXPECT_EQ(guess(r, "MAP").unit, "kPa");
  EXPECT_GE(guess(r, "MAP").confidence, kSure);
  EXPECT_NE(guess(r, "MAP").reason.find("rises with the throttle"), std::string::npos)
      << guess(r, "MAP").reason;
  EXPECT_EQ(guess(r, "CLT").unit, "degC");
  EXPECT_EQ(guess(r, "IAT").unit, "degC");
}

TEST(Units, OfACoolantInFahrenheitAreSeen) {
  const Report r = report_of(
      file_of({{"RPM", rpm_of}, {"CLT", [](const Row& x) { return 32 + 1.8 * x.clt_c; }}}));
  EXPECT_TRUE(r.questions.empty());
  EXPECT_EQ(guess(r, "CLT").unit, "degF");
}

TEST(Units, ThatTheRangeCannotSettleAreAsked) {
  // 56 to 60: an engine that never warmed up, in degC or in degF.
  const Report cold =
      report_of(file_of({{"RPM", rpm_of}, {"CLT", [](const Row& x) { return 56 + 0.02 * x.t; }}}));
  ASSERT_EQ(cold.questions.size(), 1U);
  EXPECT_EQ(cold.questions[0].header, "CLT");
  EXPECT_NE(cold.questions[0].line().find("--channel \"CLT=coolant:degC\""), std::string::npos)
      << cold.questions[0].line();
  EXPECT_NE(cold.questions[0].line().find("--channel \"CLT=coolant:degF\""), std::string::npos);
  // Intake air alone, mild weather: nothing in the file says which degree it is.
  const Report air = report_of(
      file_of({{"RPM", rpm_of}, {"IAT", [](const Row& x) { return 45 + x.iat_c / 10; }}}));
  ASSERT_EQ(air.questions.size(), 1U);
  EXPECT_EQ(air.questions[0].header, "IAT");
  // Air flow without pressure and speed beside it.
  const Report flow =
      report_of(file_of({{"TPS (%)", tps_of}, {"MAF", [](const Row& x) { return x.tps; }}}));
  ASSERT_EQ(flow.questions.size(), 1U);
  EXPECT_EQ(flow.questions[0].header, "MAF");
}

TEST(Units, OfPressureInInchesOfMercuryAreNeverTakenForAnother) {
  for (const double factor : {0.2953, 0.14504}) {  // inHg, psi
    static double f;
    f = factor;
    const Report r =
        report_of(file_of({{"RPM", rpm_of}, {"MAP", [](const Row& x) { return x.map_kpa * f; }}}));
    const std::string right = factor > 0.2 ? "inHg" : "psi absolute";
    EXPECT_TRUE(!r.questions.empty() || guess(r, "MAP").unit == right) << guess(r, "MAP").unit;
  }
}

TEST(Units, UnknownAreAskedWithThoseKnown) {
  const Report r = report_of(file_of({{"RPM", rpm_of}, {"MAP (kPb)", map_of}}));
  ASSERT_EQ(r.questions.size(), 1U);
  EXPECT_NE(r.questions[0].unclear.find("\"kPb\" is no unit of manifold pressure"),
            std::string::npos)
      << r.questions[0].unclear;
}

TEST(Units, OfACorrectionGoByWhereItRests) {
  const auto around = [](const char* header, double (*f)(const Row&)) {
    return file_of({{"RPM", rpm_of}, {header, f}});
  };
  const auto percent = [](const Row& x) { return 100 * (x.lambda - 1) * 4; };
  const auto hundred = [](const Row& x) { return 100 + 100 * (x.lambda - 1) * 4; };
  EXPECT_EQ(guess(report_of(around("Correction (%)", percent)), "Correction").unit, "% around 0");
  EXPECT_EQ(guess(report_of(around("Correction (%)", hundred)), "Correction").unit, "% around 100");
  EXPECT_EQ(guess(report_of(around("LTFT", percent)), "LTFT").unit, "% around 0");
}

TEST(Units, ConvertByHand) {
  const Answers none;
  EXPECT_NEAR(unit_of(Q::coolant, "degF", none)->si(212), 373.15, 1e-9);
  EXPECT_NEAR(unit_of(Q::map, "inHg", none)->si(29.92), 101321, 1);
  EXPECT_NEAR(unit_of(Q::maf, "lb/min", none)->si(1), 7.5599e-3, 1e-6);
  EXPECT_NEAR(unit_of(Q::correction, "% around 100", none)->si(105), 0.05, 1e-12);
  EXPECT_NEAR(unit_of(Q::correction, "factor", none)->si(1.05), 0.05, 1e-12);
  EXPECT_NEAR(unit_of(Q::correction, "% around 0", none)->si(5), 0.05, 1e-12);
  EXPECT_NEAR(unit_of(Q::lambda, "AFR 14.7", none)->si(12.495), 0.85, 1e-12)
      << "whatever is in the tank";
  EXPECT_NEAR(unit_of(Q::lambda, "equivalence", none)->si(1.25), 0.8, 1e-12);
  EXPECT_NEAR(unit_of(Q::pulse_width, "ms", none)->si(2.5), 2.5e-3, 1e-15);
  Answers high;
  high.ambient = absolute(90.0 * kPa);
  EXPECT_NEAR(unit_of(Q::map, "psi gauge", high)->si(10), 90e3 + 68947.57, 0.1);
  EXPECT_NEAR(unit_of(Q::map, "inHg vacuum", high)->si(10), 90e3 - 33863.89, 0.1);
  EXPECT_EQ(unit_of(Q::map, "psi gauge", none).error().code, ErrorCode::needs_answer);
  EXPECT_EQ(unit_of(Q::lambda, "AFR", none).error().code, ErrorCode::needs_answer);
  EXPECT_EQ(unit_of(Q::coolant, "kPa", none).error().code, ErrorCode::unknown_unit);
}

TEST(Mixture, OnAnAfrScaleIsNeverReadWithoutItsConstant) {
  const std::string bytes =
      file_of({{"RPM", rpm_of}, {"AFR", [](const Row& x) { return 14.7 * x.lambda; }}});
  const Report r = report_of(bytes);
  ASSERT_EQ(r.questions.size(), 1U);
  EXPECT_NE(r.questions[0].line().find("--channel \"AFR=lambda:afr 14.7\""), std::string::npos)
      << r.questions[0].line();
  const Report answered = report_of(bytes, answers({"AFR=lambda:afr 14.7"}));
  EXPECT_TRUE(answered.questions.empty());
  Answers constant;
  constant.afr_constant = 14.57;
  const Report all = report_of(bytes, constant);
  EXPECT_TRUE(all.questions.empty());
  EXPECT_EQ(guess(all, "AFR").unit, "afr 14.57");
}

TEST(Mixture, OnAScaleThatItCannotHaveIsAskedAboutOrRefused) {
  const std::string bytes =
      file_of({{"RPM", rpm_of}, {"Wideband (AFR)", [](const Row& x) { return x.lambda; }}});
  Answers constant;
  constant.afr_constant = 14.7;
  ASSERT_EQ(report_of(bytes, constant).questions.size(), 1U);
  const auto r = recognise(bytes, "log.csv", answers({"Wideband=lambda:afr 14.7"}));
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::out_of_range);
  EXPECT_TRUE(report_of(bytes, answers({"Wideband=lambda:lambda"})).questions.empty());
}

TEST(Mixture, OfASensorThatWarmsUpIsRead) {
  const auto r = report_of(file_of(
      {{"RPM", rpm_of}, {"Lambda", [](const Row& x) { return x.t < 20 ? 0.0 : x.lambda; }}}));
  EXPECT_TRUE(r.questions.empty());
  EXPECT_EQ(guess(r, "Lambda").what, Q::lambda);
}

TEST(TradeWords, WithANumberBehindThemAreTheSameWords) {
  EXPECT_EQ(by_name("LTFT2"), Q::long_trim);
  EXPECT_EQ(by_name("AFR 2"), Q::lambda);
  EXPECT_EQ(by_name("Lambda2"), Q::lambda);
  EXPECT_EQ(by_name("O2_B1S1"), Q::oxygen_voltage);
}

TEST(TradeWords, WithOneSlipAreSeenButNotForSure) {
  EXPECT_EQ(by_name("ENGINE_RUN_TINE"), Q::run_time);
  EXPECT_EQ(guess_by_name("THROTLE").front().what, Q::throttle);
  EXPECT_LT(guess_by_name("THROTLE").front().confidence, kSure);
  EXPECT_EQ(by_name("TIRE_TEMP"), Q::other) << "a tyre is no time";
}

TEST(Mixture, InLambdaNeedsNoConstant) {
  const Report r =
      report_of(file_of({{"RPM", rpm_of}, {"Lambda", [](const Row& x) { return x.lambda; }}}));
  EXPECT_TRUE(r.questions.empty());
  EXPECT_EQ(guess(r, "Lambda").what, Q::lambda);
}

TEST(Questions, ArePutForTwoColumnsOfOneQuantity) {
  const std::string bytes = file_of({{"RPM", rpm_of},
                                     {"Engine Speed", [](const Row& x) { return x.rpm + 1; }},
                                     {"TPS (%)", tps_of}});
  ASSERT_EQ(report_of(bytes).questions.size(), 1U);
  EXPECT_TRUE(report_of(bytes, answers({"Engine Speed=other"})).questions.empty());
  EXPECT_TRUE(report_of(bytes, answers({"Engine Speed=rpm"})).questions.empty());
}

TEST(Questions, ArePutForANameThatMayBeEither) {
  const Report r = report_of(file_of({{"RPM", rpm_of}, {"Temp (degC)", clt_of}}));
  ASSERT_EQ(r.questions.size(), 1U);
  EXPECT_NE(r.questions[0].line().find("Temp=coolant"), std::string::npos) << r.questions[0].line();
  EXPECT_NE(r.questions[0].line().find("Temp=intake_air"), std::string::npos)
      << r.questions[0].line();
}

TEST(Questions, ArePutForANameThatSaysNothingUnderAUnitThatSaysMuch) {
  const Report r =
      report_of(file_of({{"RPM", rpm_of}, {"CLT (degC)", clt_of}, {"Gizmo (degC)", clt_of}}));
  ASSERT_EQ(r.questions.size(), 1U) << "it may be the intake air";
  EXPECT_NE(r.questions[0].line().find("Gizmo=intake_air"), std::string::npos)
      << r.questions[0].line();
  const Report speed = report_of(file_of({{"N (rpm)", rpm_of}, {"TPS (%)", tps_of}}));
  ASSERT_EQ(speed.questions.size(), 1U);
  EXPECT_NE(speed.questions[0].line().find("N=rpm"), std::string::npos)
      << speed.questions[0].line();
}

TEST(Questions, ArePutWhenTheBehaviourContradictsTheName) {
  const Report r =
      report_of(file_of({{"RPM", rpm_of}, {"TPS (%)", tps_of}, {"MAP (kPa)", [](const Row& x) {
                                                                  return 120 - x.map_kpa;
                                                                }}}));
  ASSERT_EQ(r.questions.size(), 1U);
  EXPECT_NE(r.questions[0].unclear.find("falls when the throttle rises"), std::string::npos)
      << r.questions[0].line();
}

TEST(Questions, ArePutForAPressureBelowZero) {
  const Report r =
      report_of(file_of({{"RPM", rpm_of}, {"TPS (%)", tps_of}, {"MAP (kPa)", [](const Row& x) {
                                                                  return x.map_kpa - 100;
                                                                }}}));
  ASSERT_EQ(r.questions.size(), 1U);
  EXPECT_NE(r.questions[0].line().find("MAP=map:kPa gauge"), std::string::npos)
      << r.questions[0].line();
}

TEST(Questions, AreNotPutForWhatTheWorkDoesNotNeed) {
  const Report r = report_of(file_of(
      {{"RPM", rpm_of}, {"Frobs", map_of}, {"Gizmo (furlong)", tps_of}, {"RPM limit", rpm_of}}));
  EXPECT_TRUE(r.questions.empty()) << r.questions.front().line();
  EXPECT_EQ(guess(r, "Frobs").what, Q::other);
  EXPECT_EQ(guess(r, "RPM limit").what, Q::other);
  EXPECT_FALSE(guess(r, "Frobs").reason.empty());
}

TEST(Questions, AreNotPutForAChannelThatIsAlwaysZero) {
  const Report r = report_of(file_of({{"RPM", rpm_of}, {"MAF", [](const Row&) { return 0.0; }}}));
  EXPECT_TRUE(r.questions.empty());
  EXPECT_TRUE(guess(r, "MAF").constant);
  EXPECT_NE(guess(r, "MAF").reason.find("carries nothing"), std::string::npos);
}

TEST(Answers, WinOverAGuess) {
  const std::string bytes = file_of({{"RPM", rpm_of}, {"X7", map_of}});
  const Report r = report_of(bytes, answers({"X7=map:kPa"}));
  EXPECT_EQ(guess(r, "X7").what, Q::map);
  EXPECT_TRUE(guess(r, "X7").answered);
  EXPECT_DOUBLE_EQ(guess(r, "X7").confidence, 1);
}

TEST(Answers, ThatTheValuesContradictAreRefused) {
  const std::string bytes =
      file_of({{"RPM", rpm_of}, {"CLT", [](const Row& x) { return 4000.0 + x.t; }}});
  const auto r = recognise(bytes, "log.csv", answers({"CLT=coolant:degC"}));
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::out_of_range);
  EXPECT_EQ(
      r.error().line(),
      "log.csv: \"CLT\": 4000 degC came on line 2; coolant temperature lies within -60 to 160");
}

TEST(Answers, ThatNameNoColumnAreRefusedWithTheNearest) {
  const auto r = recognise("RPM,MAP\n900,40\n901,41\n", "log.csv", answers({"MPA=map:kPa"}));
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::not_found);
  EXPECT_NE(r.error().line().find("\"MPA\""), std::string::npos);
}

TEST(Answers, InAUnitOfAnotherKindAreRefused) {
  const auto r =
      recognise(file_of({{"RPM", rpm_of}, {"MAP", map_of}}), "log.csv", answers({"MAP=map:degC"}));
  ASSERT_FALSE(r.ok());
  EXPECT_EQ(r.error().code, ErrorCode::unknown_unit);
}

TEST(Answers, AreReadFromTheirForm) {
  const Answers a = answers({"A=B=map:kPa", "CLT=:degF", "X=other"});
  EXPECT_EQ(a.channels.at("A=B").what, Q::map);
  EXPECT_EQ(a.channels.at("CLT").unit, "degF");
  EXPECT_FALSE(a.channels.at("CLT").what);
  EXPECT_EQ(a.channels.at("X").what, Q::other);
  Answers bad;
  for (const char* text : {"", "A", "=map", "A=", "A=:", "A=nonsense:kPa"}) {
    EXPECT_EQ(add_channel_answer(bad, text).error().code, ErrorCode::usage) << text;
  }
  ASSERT_TRUE(add_channel_answer(bad, "A=map:kPa").ok());
  EXPECT_FALSE(add_channel_answer(bad, "A=baro:kPa").ok());
}

TEST(Answers, StateTheRateAsRowsPerSecondOrAsSpacing) {
  EXPECT_NEAR(parse_row_step("10 Hz")->si, 0.1, 1e-12);
  EXPECT_NEAR(parse_row_step("250 ms")->si, 0.25, 1e-12);
  EXPECT_EQ(parse_row_step("fast").error().code, ErrorCode::usage);
  EXPECT_EQ(parse_row_step("0 Hz").error().code, ErrorCode::out_of_range);
}

}  // namespace
}  // namespace fuelwright::signals::recognise_test
