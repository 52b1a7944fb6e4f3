"""The headings of class lists in several languages, folded: no case, accents, blanks or signs."""

from __future__ import annotations

GIVEN, FAMILY, FULL, SOURCE_ID, GROUP = "given", "family", "full", "source_id", "group"

_WORDS = {
    GIVEN: (
        "firstname first givenname given givennames forename forenames preferredname preferredfirstname "
        "preferredgivenname knownas callingname studentfirstname pupilforename legalfirstname fname vorname "
        "rufname prenom prenoms nombre nombres primernombre nome voornaam roepnaam fornavn fornamn "
        "tilltalsnamn etunimi imie jmeno keresztnev prenume eiginnafn"
    ),
    FAMILY: (
        "lastname last familyname family surname studentlastname pupilsurname legallastname legalsurname "
        "lname initial lastinitial familyinitial surnameinitial nachname familienname zuname nomdefamille "
        "apellido apellidos primerapellido cognome sobrenome achternaam efternavn efternamn sukunimi "
        "nazwisko prijmeni vezeteknev numedefamilie etternavn soyad soyadi"
    ),
    FULL: (
        "name names nom fullname studentname student students pupil pupils pupilname child childname "
        "children displayname learner learnername nameofstudent nameofpupil nameofchild schuler schulername "
        "eleve eleves alumno alumnos alumna nombrecompleto nombreyapellidos nomprenom nometprenom naam "
        "leerling elev navn namn nimi nev jmenoaprijmeni"
    ),
    SOURCE_ID: (
        "id sourcedid sourceid studentid pupilid childid learnerid studentnumber pupilnumber studentno "
        "localid sisid schoolid identifier uniqueid uid externalid upn uln admissionnumber admissionno "
        "number studentsourcedid usersourcedid schulernummer schulerid matricula matricule idalumno "
        "leerlingnummer elevnummer"
    ),
    GROUP: (
        "class classname group groupname section sectionname homeroom form formgroup tutorgroup "
        "registrationgroup reggroup room period division classcode klasse klas classe clase curso grupo "
        "grupa turma trida osztaly luokka"
    ),
}
MEANING = {word: meaning for meaning, words in _WORDS.items() for word in words.split()}
"""What a folded heading says its column holds."""
