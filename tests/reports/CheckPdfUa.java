// The rules of ISO 14289-1 (PDF/UA-1) over PDF files, by the validator inside a jar: a line a failed rule and file.
// The jar lacks what would read its own profile, so that the profile is read here.

import java.io.FileInputStream;
import java.io.InputStream;
import java.util.ArrayList;
import java.util.Date;
import java.util.HashSet;
import java.util.List;
import java.util.Set;
import java.util.TreeSet;
import javax.xml.parsers.DocumentBuilderFactory;
import org.verapdf.gf.foundry.VeraGreenfieldFoundryProvider;
import org.verapdf.pdfa.Foundries;
import org.verapdf.pdfa.PDFAParser;
import org.verapdf.pdfa.PDFAValidator;
import org.verapdf.pdfa.flavours.PDFAFlavour;
import org.verapdf.pdfa.results.TestAssertion;
import org.verapdf.pdfa.results.ValidationResult;
import org.verapdf.pdfa.validation.profiles.ErrorArgument;
import org.verapdf.pdfa.validation.profiles.Profiles;
import org.verapdf.pdfa.validation.profiles.Rule;
import org.verapdf.pdfa.validation.profiles.ValidationProfile;
import org.verapdf.pdfa.validation.profiles.Variable;
import org.verapdf.pdfa.validation.validators.ValidatorFactory;
import org.w3c.dom.Document;
import org.w3c.dom.Element;
import org.w3c.dom.NodeList;

public class CheckPdfUa {
    static String text(Element parent, String name) {
        return parent.getElementsByTagName(name).item(0).getTextContent();
    }

    static ValidationProfile profile() throws Exception {
        InputStream stream = ValidatorFactory.class.getResourceAsStream("/org/verapdf/pdfa/validation/PDFUA-1.xml");
        Document document = DocumentBuilderFactory.newInstance().newDocumentBuilder().parse(stream);
        Set<Rule> rules = new HashSet<>();
        NodeList nodes = document.getElementsByTagName("rule");
        for (int i = 0; i < nodes.getLength(); i++) {
            Element rule = (Element) nodes.item(i);
            Element id = (Element) rule.getElementsByTagName("id").item(0);
            List<ErrorArgument> arguments = new ArrayList<>();
            rules.add(Profiles.ruleFromValues(
                Profiles.ruleIdFromValues(
                    PDFAFlavour.Specification.ISO_14289_1, id.getAttribute("clause"),
                    Integer.parseInt(id.getAttribute("testNumber"))),
                rule.getAttribute("object"),
                rule.hasAttribute("deferred") ? Boolean.valueOf(rule.getAttribute("deferred")) : null,
                rule.getAttribute("tags"), text(rule, "description"), text(rule, "test"),
                Profiles.errorFromValues(text(rule, "message"), arguments), new ArrayList<>()));
        }
        Set<Variable> variables = new HashSet<>();
        nodes = document.getElementsByTagName("variable");
        for (int i = 0; i < nodes.getLength(); i++) {
            Element one = (Element) nodes.item(i);
            variables.add(Profiles.variableFromValues(
                one.getAttribute("name"), one.getAttribute("object"), text(one, "defaultValue"), text(one, "value")));
        }
        return Profiles.profileFromValues(
            PDFAFlavour.PDFUA_1, Profiles.profileDetailsFromValues("PDF/UA-1", "", "", new Date(0)), "", rules,
            variables);
    }

    public static void main(String[] files) throws Exception {
        VeraGreenfieldFoundryProvider.initialise();
        ValidationProfile profile = profile();
        System.out.println("rules " + profile.getRules().size());
        for (String file : files) {
            Set<String> failed = new TreeSet<>();
            try (PDFAParser parser = Foundries.defaultInstance().createParser(
                     new FileInputStream(file), PDFAFlavour.PDFUA_1);
                 PDFAValidator validator = ValidatorFactory.createValidator(profile, 1000, false, false, false)) {
                ValidationResult result = validator.validate(parser);
                for (TestAssertion one : result.getTestAssertions()) {
                    if (one.getStatus() == TestAssertion.Status.FAILED) {
                        failed.add(one.getRuleId().getClause() + "-" + one.getRuleId().getTestNumber() + " "
                            + one.getMessage() + " at " + one.getLocation().getContext());
                    }
                }
                System.out.println("checks " + result.getTotalAssertions());
            }
            for (String one : failed) {
                System.out.println("failed " + file + " " + one);
            }
        }
    }
}
