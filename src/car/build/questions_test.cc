#include "car/build/questions.h"

#include <gtest/gtest.h>

#include "car/build/sheet_file.h"

namespace fuelwright::car::questions_test {
namespace {

Sheet sheet_of(const std::vector<std::string>& answers) {
  auto toml = sheet_from_answers(answers);
  EXPECT_TRUE(toml.ok()) << (toml.ok() ? "" : toml.error().line());
  if (!toml.ok()) return {};
  return read_sheet(*toml, "sheet.toml").value();
}

TEST(Questions, FiveAnswersMakeASheet) {
  const Sheet s = sheet_of({"5.7 l", "8", "214", "36 lb/h at 43.5 psi", "gasoline"});
  EXPECT_NEAR(s.engine.displacement.value.in(litre), 5.7, 1e-12);
  EXPECT_NEAR(s.cam.intake_duration_050.value.degrees(), 214, 1e-9);
  EXPECT_NEAR(s.injection.injector_flow.value.in(lb_per_h), 36, 1e-9);
  EXPECT_EQ(s.fuel.name.value, "petrol");
}

TEST(Questions, BoreAndStrokeMayStandInsteadOfDisplacement) {
  for (const char* answer : {"4.030 in x 3.480 in", "4.030 x 3.480 in", "4.030in X 3.480in",
                             "4.030 in \xC3\x97 3.480 in"}) {
    const Sheet s = sheet_of({answer, "8", "214 deg", "380 cc/min @ 3 bar", "E10"});
    EXPECT_NEAR(s.engine.bore.value.in(inch), 4.03, 1e-12) << answer;
    EXPECT_NEAR(s.engine.stroke.value.in(inch), 3.48, 1e-12) << answer;
    EXPECT_NEAR(s.engine.displacement.value.in(cubic_inch), 355.1, 0.1)
        << answer;  // pi/4 4.03^2 3.48 8
  }
}

TEST(Questions, EachQuestionShowsHowItUnderstoodTheAnswer) {
  const auto& q = five_questions();
  ASSERT_EQ(q.size(), 5u);
  EXPECT_EQ(q[0].check("350 cu in").value().understood, "5.735 l");
  EXPECT_EQ(q[0].check("86 x 86 mm").value().understood, "86.00 mm x 86.00 mm (bore x stroke)");
  EXPECT_EQ(q[1].check(" 4 ").value().understood, "4 cylinders");
  EXPECT_EQ(q[2].check("214").value().understood, "214.0 deg at 0.050 in");
  EXPECT_EQ(q[3].check("380 cc/min at 3 bar").value().understood, "380.0 cc/min at 300.0 kPa");
  EXPECT_EQ(q[4].check("e 10").value().understood, "E10");
}

TEST(Questions, EveryExampleIsAnAnswer) {
  const auto& q = five_questions();
  EXPECT_TRUE(q[0].check("5.7 l").ok());
  EXPECT_TRUE(q[0].check("4.030 in x 3.480 in").ok());
  EXPECT_TRUE(q[1].check(q[1].example).ok());
  EXPECT_TRUE(q[2].check(q[2].example).ok());
  EXPECT_TRUE(q[3].check("36 lb/h at 43.5 psi").ok());
}

TEST(Questions, AnAnswerThatIsNoneIsToldWhatIsExpected) {
  const auto& q = five_questions();
  EXPECT_EQ(q[0].check("350").error().code, ErrorCode::unknown_unit);
  EXPECT_EQ(q[0].check("20 mm x 80 mm").error().code, ErrorCode::out_of_range);
  EXPECT_EQ(q[1].check("four").error().code, ErrorCode::bad_input);
  EXPECT_EQ(q[1].check("40").error().code, ErrorCode::out_of_range);
  EXPECT_EQ(q[2].check("21.4 deg").error().code, ErrorCode::out_of_range);
  EXPECT_EQ(q[3].check("36 lb/h").error().code, ErrorCode::needs_answer);
  EXPECT_EQ(q[3].check("36 mm at 3 bar").error().code, ErrorCode::out_of_range);
  EXPECT_EQ(q[4].check("disel").error().code, ErrorCode::bad_input);
  for (const Question& one : q) {
    for (const char* bad : {"", "   ", "\x01", "\"", "x", "@", " at ", "nan", "1e999 l", "\xff"}) {
      EXPECT_FALSE(one.check(bad).ok()) << one.id << " " << bad;
    }
    EXPECT_FALSE(one.check(std::string(5000, '9')).ok());
  }
}

TEST(Questions, AWrongAnswerNamesItsQuestionAndContradictionsAreTold) {
  EXPECT_EQ(sheet_from_answers({"5.7 l", "8", "214", "36 lb/h", "E10"}).error().where,
            "injection.injector_flow");
  EXPECT_EQ(sheet_from_answers({"5.7 l"}).error().code, ErrorCode::usage);
  const auto wrong = sheet_from_answers({"5.7 l", "1", "214", "36 lb/h at 3 bar", "E10"});
  ASSERT_FALSE(wrong.ok());
  EXPECT_NE(wrong.error().message.find("5.7 l a cylinder"), std::string::npos)
      << wrong.error().line();
}

}  // namespace
}  // namespace fuelwright::car::questions_test
